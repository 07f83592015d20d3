"""Releases, said again."""

from collections.abc import Sequence

from inventory.containers.events import Op
from inventory.containers.models import Container
from inventory.correcting.again import Again, Said
from inventory.correcting.of_containers import scales_with
from inventory.measures.quantity import exact
from inventory.releases.actions import release
from inventory.releases.causes import ALL, ESTIMATED, WEIGHED
from inventory.releases.forms import ReleaseForm
from inventory.releases.queries import in_stock_codes


class ReleasedForm(ReleaseForm):
    """The moment and who was there stay as they were said."""

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        del self.fields["time"], self.fields["who"]


class Released(Again):
    form_class = ReleasedForm

    def __init__(self, said: Said, person, data=None):
        super().__init__(said, person, data)
        named = [op.scale for op in (*said.ops("draw"), *said.ops("count")) if op.scale]
        self.form.fields["scale"].choices = scales_with(*named)

    def form_more(self) -> dict[str, object]:
        return {"person": self.person}

    def initial(self) -> dict[str, object]:
        drawn, left, counted = (self.said.ops(verb) for verb in ("draw", "leave", "count"))
        found = {
            "cause": self.said.detail["cause"],
            "note": self.said.voucher.note,
            "container": (drawn + left)[0].code,
        }
        if drawn:
            op = drawn[0]
            return {**found, "how": WEIGHED, "before": op.before, "after": op.after, "scale": op.scale}
        if counted:
            return {**found, "how": WEIGHED, "after": counted[0].gross, "scale": counted[0].scale}
        if left[0].quantity is None:
            return {**found, "how": ALL}
        return {**found, "how": ESTIMATED, "quantity": self._estimate(left[0])}

    def _estimate(self, left: Op) -> str:
        oil = Container.objects.get(code=left.code).is_oil
        return exact(left.quantity, self.person.volume_unit if oil else self.person.mass_unit)

    def lists(self) -> dict[str, Sequence[str]]:
        return {"stock": in_stock_codes()}

    def say(self, data: dict, head: dict) -> int:
        return release(**self.form.said(), **head)
