"""A unit as rules are asked about it. Pure: no Django here."""

import datetime as dt
from typing import Protocol

from inventory.reference.rule import System

YES, NO = "yes", "no"


class Described(Protocol):
    """A unit, as far as rules ask of it. The words are `yes`, `no`, or blank where nobody has decided."""

    equipment: str
    refrigerant: str
    charge_target_mg: int | None
    use: str
    sealed: bool
    dwelling: bool
    leak_detection: bool
    light_commercial: str
    may_be_light_commercial: bool
    designed_for: str
    open_drive: str
    bound: str
    mostly_process: bool
    process_shutdown: bool
    military: bool
    below_minus_50: bool
    installed_on: dt.date | None


def system_of(
    unit: Described, *, substance: str | None = None, charge_mg: int | None = None, marks: dict[str, str] | None = None
) -> System:
    """A unit with what is known of it. substance: what is handled, where it may be another than the unit's; charge_mg:
    the full charge, where it is known better than from the label. marks: more of TRAITS, each with `yes`, `no` or
    blank, such as what the work on it was. What nobody has decided is among `undecided`."""
    said = {
        "light-commercial": unit.light_commercial if unit.may_be_light_commercial else NO,
        "open-drive": unit.open_drive,
        "bound": unit.bound,
        "process": _said(unit.mostly_process),
        "process-shutdown": _said(unit.process_shutdown),
        "military": _said(unit.military),
        "below-minus-50": _said(unit.below_minus_50),
        "detection": _said(unit.leak_detection),
        **(marks or {}),
    }
    return System(
        unit.equipment,
        unit.refrigerant if substance is None else substance,
        unit.charge_target_mg if charge_mg is None else charge_mg,
        unit.sealed,
        unit.dwelling,
        unit.use,
        frozenset(name for name, word in said.items() if word == YES),
        frozenset(name for name, word in said.items() if not word),
        unit.installed_on,
    )


def _said(holds: bool) -> str:
    return YES if holds else NO
