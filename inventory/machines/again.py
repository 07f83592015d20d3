"""A machine's recycling, said again."""

from collections.abc import Sequence

from inventory.containers.models import Container
from inventory.correcting.again import Again, Said
from inventory.machines.actions import recycle
from inventory.machines.forms import RecycleForm, standards
from inventory.machines.models import Machine
from inventory.shop.forms import text


class RecycledForm(RecycleForm):
    container = text("Container", 60, required=True)
    field_order = ("key", "container")


class Recycled(Again):
    """A change of grade that names the machine that made it."""

    form_class = RecycledForm

    @classmethod
    def enters(cls, said: Said) -> bool:
        return "machine" in said.detail

    def __init__(self, said: Said, person, data=None):
        """The machine that did it may be chosen also where it is out of use by now."""
        self.machine = next((one for one in Machine.objects.all() if str(one) == said.detail["machine"]), None)
        super().__init__(said, person, data)
        if self.machine is not None:
            field = self.form.fields["machine"]
            field.queryset = field.queryset | Machine.objects.filter(pk=self.machine.pk)

    def initial(self) -> dict[str, object]:
        said = self.said
        code = said.ops("regrade")[0].code
        labelled = Container.objects.filter(code=code, label_says="recycled").exists()
        more = {"standard": said.detail["standard"], "note": said.voucher.note, "labelled": labelled}
        return {"container": code, "machine": self.machine, **more}

    def lists(self) -> dict[str, Sequence[str]]:
        return {"standards": standards()}

    def say(self, data: dict, head: dict) -> int:
        said = {name: data[name] for name in ("machine", "standard", "labelled")}
        return recycle(code=data["container"], **said, **head)
