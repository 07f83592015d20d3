"""Moves, decants, changes of grade and retirements, said again."""

from collections.abc import Sequence

from inventory.containers import actions
from inventory.containers.forms import DecantForm, MoveForm, RegradeForm, RetireForm, locations, scales
from inventory.containers.queries import fillable, proof_asked_of
from inventory.correcting.again import Again, CodesField, Said
from inventory.parties.models import Party
from inventory.shop.forms import text
from inventory.shop.models import Shop


def scales_with(*codes: str) -> list[tuple[str, str]]:
    """The scales to choose from, and those that an entry named, used still or not."""
    found = scales()
    known = {code for code, _ in found}
    return [*found, *((code, code) for code in dict.fromkeys(codes) if code not in known)]


class MovedForm(MoveForm):
    containers = CodesField(label="Containers")
    field_order = ("key", "containers")


class Moved(Again):
    form_class = MovedForm

    def initial(self) -> dict[str, object]:
        return {"containers": self.said.codes("stand"), "to_location": self.said.ops("stand")[0].location}

    def lists(self) -> dict[str, Sequence[str]]:
        return {"locations": locations()}

    def say(self, data: dict, head: dict) -> int:
        return actions.move(codes=data["containers"], location=data["to_location"], **head)


class RetiredForm(RetireForm):
    containers = CodesField(label="Containers")
    field_order = ("key", "containers")


class Retired(Again):
    form_class = RetiredForm

    def form_more(self) -> dict[str, object]:
        codes = self.said.codes("retire")
        asks = proof_asked_of(codes, Shop.current().rules, self.said.event.on)
        said = any(self.said.detail.get(name) for name in RetireForm.PROOF)
        return {"asks": asks or ("how they ended" if said else "")}

    def initial(self) -> dict[str, object]:
        party = Party.objects.filter(code=self.said.detail.get("taken_by", "")).first()
        more = {"taken_by": party, "statement": self.said.detail.get("statement", False)}
        return {"containers": self.said.codes("retire"), "residue_into": self.said.ops("retire")[0].into, **more}

    def lists(self) -> dict[str, Sequence[str]]:
        return {"fillable": fillable()}

    def say(self, data: dict, head: dict) -> int:
        said = {"residue_into": data["residue_into"], **self.form.proof()}
        return actions.retire(codes=data["containers"], **said, **head)


class RegradedForm(RegradeForm):
    container = text("Container", 60, required=True)
    field_order = ("key", "container")


class Regraded(Again):
    form_class = RegradedForm

    def initial(self) -> dict[str, object]:
        said = self.said.ops("regrade")[0]
        return {"container": said.code, "grade": said.grade, "note": self.said.voucher.note}

    def say(self, data: dict, head: dict) -> int:
        return actions.regrade(code=data["container"], grade=data["grade"], **head)


class DecantedForm(DecantForm):
    source = text("From", 60, required=True)
    field_order = ("key", "source")


class Decanted(Again):
    """A decant names one container that it left."""

    form_class = DecantedForm

    def __init__(self, said: Said, person, data=None):
        super().__init__(said, person, data)
        self.form.fields["scale"].choices = scales_with(said.ops("draw")[0].scale)

    def form_more(self) -> dict[str, object]:
        return {"person": self.person}

    def initial(self) -> dict[str, object]:
        said = self.said.ops("draw")[0]
        weighed = {name: getattr(said, name) for name in ("before", "after", "scale")}
        return {"source": said.code, "into": said.others[0], "quantity": said.quantity, **weighed}

    def lists(self) -> dict[str, Sequence[str]]:
        return {"fillable": fillable()}

    def say(self, data: dict, head: dict) -> int:
        given = {name: data[name] for name in ("source", "into", "before", "after", "quantity", "scale")}
        return actions.decant(**given, **head)
