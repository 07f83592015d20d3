"""Counts and tares, said again."""

import re

from inventory.containers.models import Container, Scale
from inventory.correcting.again import Again, Said, lines_of
from inventory.correcting.of_containers import scales_with
from inventory.counting import actions
from inventory.counting.forms import EntryForm, TareForm, containers_called
from inventory.counting.recounting import Shown, recount
from inventory.measures.quantity import exact
from inventory.shop.forms import ActForm, DayField, note, text
from inventory.text.refusal import Refused

CODE = re.compile(r"line-\d+-code")


class CountedForm(ActForm):
    day = DayField(label="Day")
    note = note()


class CountedLine(EntryForm):
    """A reading, as it is entered at a count; what was questioned then is taken as it is said now."""

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        del self.fields["sure"]
        self.fields["code"].widget.attrs.pop("list")


class Counted(Again):
    """A count of a place, a sheet that was typed in, or a single weighing."""

    form_class = CountedForm
    rows_class = lines_of(CountedLine, 2000)  # a place may hold that many, and is counted at once
    row_title = "Reading"

    @classmethod
    def may(cls, said: Said, person) -> bool:
        """Everybody weighs a container, and puts their own reading right."""
        alone = len(said.event.ops) == 1 and said.voucher.done_by == person.username
        return alone or super().may(said, person)

    def initial(self) -> dict[str, object]:
        return {"note": self.said.voucher.note}

    def lines(self) -> list[dict[str, object]]:
        readings = self.said.ops("count")
        oils = {one.code: one.is_oil for one in Container.objects.filter(code__in=self.said.codes("count"))}
        units = {True: self.person.volume_unit, False: self.person.mass_unit}
        return [{"code": op.code, "gross": exact(op.gross, units[oils[op.code]]), "scale": op.scale} for op in readings]

    def row_more(self) -> dict[str, object]:
        named = [op.scale for op in self.said.ops("count") if op.scale]
        typed = (value.strip() for name, value in self.form.data.items() if CODE.fullmatch(name))
        return {
            "person": self.person,
            "among": scales_with(*named),
            "called": containers_called(typed),
            "scales": list(Scale.objects.all()),
        }

    def say(self, data: dict, head: dict) -> int:
        readings: dict[str, Shown] = {}
        for row in self.standing_rows():
            code = row.cleaned_data["code"].strip()
            if code in readings:
                raise Refused(f"{code} has two readings; take one of them off.")
            readings[code] = Shown(row.cleaned_data["gross"], row.cleaned_data["scale"])
        if len(readings) > 1 and not super().may(self.said, self.person):
            raise Refused("You correct one reading of your own here; the office enters counts of more containers.")
        return recount(readings=readings, **head)


class TaredForm(TareForm):
    container = text("Container", 60, required=True)
    day = DayField(label="Day")
    field_order = ("key", "container")


class Tared(Again):
    form_class = TaredForm

    def __init__(self, said: Said, person, data=None):
        super().__init__(said, person, data)
        self.form.fields["tare_mg"].unit = person.mass_unit

    def initial(self) -> dict[str, object]:
        said = self.said.ops("tare")[0]
        return {"container": said.code, "tare_mg": said.tare, "note": self.said.voucher.note}

    def say(self, data: dict, head: dict) -> int:
        return actions.correct_tare(code=data["container"], tare_mg=data["tare_mg"], **head)
