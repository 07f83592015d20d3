"""Entries of gas that is kept apart, said again."""

from collections.abc import Sequence

from inventory.codes.queries import names_of
from inventory.containers.forms import locations, substances
from inventory.containers.models import Container
from inventory.correcting.again import Again, Said
from inventory.correcting.of_containers import scales_with
from inventory.kept import actions
from inventory.kept.customers import customer_suggestions
from inventory.kept.forms import FoundForm, GiveBackForm, IdentifyForm, KeepForForm, TakeInForm
from inventory.shop.forms import text


class OfWeighing(Again):
    """An entry whose form names a scale, and weights in the person's own unit. op: the op that was weighed."""

    weighed = "count"

    def __init__(self, said: Said, person, data=None):
        super().__init__(said, person, data)
        self.form.fields["scale"].choices = scales_with(*filter(None, [self._scale(said)]))

    def _scale(self, said: Said) -> str:
        return said.ops(self.weighed)[0].scale

    def form_more(self) -> dict[str, object]:
        return {"person": self.person}

    def lists(self) -> dict[str, Sequence[str]]:
        return {"substances": substances(), "locations": locations(), "customers": customer_suggestions()}


def named(code: str) -> str:
    """A customer as a form names one, by code: `Jo Bell (C-000012)`; blank for nobody."""
    return f"{names_of([code]).get(code, '')} ({code})" if code else ""


class TakenIn(OfWeighing):
    form_class = TakeInForm

    def initial(self) -> dict[str, object]:
        came, weighed = self.said.ops("arrive")[0], self.said.ops("count")[0]
        row = Container.objects.get(code=came.code)
        return {
            "customer": named(came.name),
            "kind": came.kind,
            "substance": came.substance,
            "grade": came.grade,
            "tare": came.tare,
            "gross": weighed.gross,
            "scale": weighed.scale,
            "location": came.location,
            "code": came.code,
            "water_capacity": row.water_capacity_mg,
            "retest_due": row.retest_due,
            "note": self.said.voucher.note,
        }

    def say(self, data: dict, head: dict) -> int:
        return actions.take_in(owner=data["customer"], brought=self.form.brought(), **head)


class KeptForForm(KeepForForm):
    container = text("Container", 60, required=True)
    field_order = ("key", "container")


class KeptFor(Again):
    form_class = KeptForForm

    def initial(self) -> dict[str, object]:
        said = self.said.ops("keep")[0]
        return {"container": said.code, "customer": named(said.owner), "note": self.said.voucher.note}

    def lists(self) -> dict[str, Sequence[str]]:
        return {"customers": customer_suggestions()}

    def say(self, data: dict, head: dict) -> int:
        return actions.keep_for(code=data["container"], owner=data["customer"], **head)


class GivenBackForm(GiveBackForm):
    container = text("Container", 60, required=True)
    field_order = ("key", "container")


class GivenBack(Again):
    form_class = GivenBackForm

    def initial(self) -> dict[str, object]:
        stays = bool(self.said.ops("keep"))
        return {"container": self.said.codes("leave")[0], "stays": stays, "note": self.said.voucher.note}

    def say(self, data: dict, head: dict) -> int:
        return actions.give_back(code=data["container"], stays=data["stays"], **head)


class FoundAgainForm(FoundForm):
    """What was photographed stays with the voucher that it was found by."""

    photo = None


class Found(OfWeighing):
    form_class = FoundAgainForm
    weighed = "found"

    def initial(self) -> dict[str, object]:
        came, weighed = self.said.ops("arrive")[0], self.said.ops("found")[0]
        more = {"gross": weighed.gross, "scale": weighed.scale, "found_where": self.said.voucher.note}
        return {"kind": came.kind, "location": came.location, "code": came.code, **more}

    def say(self, data: dict, head: dict) -> int:
        named = {name: data[name] for name in ("kind", "location", "code", "scale")}
        head = {name: value for name, value in head.items() if name != "note"}
        found = actions.find(gross_mg=data["gross"], found_where=data["found_where"], **named, **head)
        return found[0]


class IdentifiedForm(IdentifyForm):
    container = text("Container", 60, required=True)
    field_order = ("key", "container")


class Identification(OfWeighing):
    form_class = IdentifiedForm
    weighed = "identify"

    def initial(self) -> dict[str, object]:
        said, detail = self.said.ops("identify")[0], self.said.detail
        weighed = {"gross": said.gross, "scale": said.scale, "tare": said.tare}
        told = {"identified_by": detail.get("identified_by", ""), "purity": detail.get("purity_percent", "")}
        told |= {"how": detail.get("tare_was", ""), "note": self.said.voucher.note}
        return {"container": said.code, "substance": said.substance, "grade": said.grade, **weighed, **told}

    def say(self, data: dict, head: dict) -> int:
        return actions.identify(code=data["container"], said=self.form.said(), **head)
