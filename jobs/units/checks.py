"""What a unit may be: what goes together and what does not, each refusal at its field."""

import datetime as dt

from inventory.measures.days import FIRST_MADE, said_day
from inventory.reference.rule import EQUIPMENT, USES
from inventory.shop.days import happened
from inventory.text.refusal import Refused
from jobs.units.models import PROCESS_SHARE, YEARS, Unit, UnitKind


def check_unit(unit: Unit) -> None:
    """Raises Refused, at its field, for what is wrong or does not go together; TypeError for no int."""
    if unit.kind not in UnitKind.values:
        raise Refused(f"{unit.kind!r} is not a kind of unit; write one of {', '.join(UnitKind.values)}.", "kind")
    if unit.exactly and unit.entered_as not in EQUIPMENT:
        known = [EQUIPMENT[name] for name in EQUIPMENT if name.startswith(f"{unit.kind}/")]
        raise Refused(
            f"{unit.exactly!r} is no {unit.get_kind_display().lower()}; leave it blank"
            + (f", or choose {' or '.join(known)}." if known else "."),
            "exactly",
        )
    if not (unit.name or unit.plate or unit.vin or unit.make or unit.model):
        raise Refused("Nothing tells this unit from others; give its plate, its VIN or a description.", "name")
    if unit.year is not None and not YEARS[0] <= unit.year <= YEARS[1]:
        raise Refused(f"{unit.year} is not a model year; write four digits, {YEARS[0]} to {YEARS[1]}.", "year")
    if unit.use and unit.use not in USES:
        raise Refused(f"{unit.use!r} is no use; leave it blank, or choose one of {', '.join(USES)}.", "use")
    _check_quantities(unit)
    _check_order(unit)
    _check_place(unit)
    _check_days(unit)
    _check_process(unit)
    _check_exemptions(unit)


def _check_quantities(unit: Unit) -> None:
    for field, called in (
        ("charge_min_mg", "least charge"),
        ("charge_nominal_mg", "nominal charge"),
        ("charge_max_mg", "most charge"),
        ("oil_amount_ul", "amount of oil"),
    ):
        value = getattr(unit, field)
        if value is None:
            continue
        if type(value) is not int:
            raise TypeError(f"{field} is {value!r}, not a whole number")
        if value <= 0:
            raise Refused(f"The {called} must be more than nothing; leave it blank if it is not known.", field)


def _check_order(unit: Unit) -> None:
    least, nominal, most = unit.charge_min_mg, unit.charge_nominal_mg, unit.charge_max_mg
    if least is not None and most is not None and least > most:
        raise Refused(
            "The least charge is more than the most; the smaller figure belongs into the first field.",
            "charge_min_mg",
        )
    if nominal is not None and ((least is not None and nominal < least) or (most is not None and nominal > most)):
        raise Refused(
            "The nominal charge lies outside the range; it must lie between the least and the most.",
            "charge_nominal_mg",
        )


def _check_place(unit: Unit) -> None:
    if unit.premises is not None and unit.premises.customer_id != unit.customer_id:
        raise Refused(
            f"{unit.premises} are premises of {unit.premises.customer}; write premises of the unit's own customer, or "
            "leave the field blank.",
            "premises",
        )


def _check_days(unit: Unit) -> None:
    for field, called in (("installed_on", "installed"), ("retired_on", "retired")):
        day = getattr(unit, field)
        if day is not None:
            _check_past(day, field, called)
    if unit.installed_on and unit.retired_on and unit.retired_on < unit.installed_on:
        raise Refused(
            f"It was retired on {said_day(unit.retired_on)}, before it was installed on {said_day(unit.installed_on)}; "
            "check the two days.",
            "retired_on",
        )


def _check_past(day: dt.date, field: str, called: str) -> None:
    later = f"{said_day(day)} is still to come; enter the day once the unit is {called}."
    happened(day, field, first=FIRST_MADE, still_to_come=later)


def _check_process(unit: Unit) -> None:
    share = unit.process_share_percent
    if share is not None and not 0 <= share <= 100:
        raise Refused(f"{share} % is no share; write a whole number from 0 to 100.", "process_share_percent")
    if unit.kind != UnitKind.STATIONARY:
        if share is not None:
            raise Refused(
                "Only stationary equipment serves an industrial process; leave the share blank, or change the kind.",
                "process_share_percent",
            )
        return
    if unit.exactly == "process" and share is not None and share < PROCESS_SHARE:
        raise Refused(
            f"With {share} % of its capacity for the process it is no industrial process refrigeration: that begins "
            f"at {PROCESS_SHARE} % (40 CFR 82.152). Choose what the other part is, or correct the share.",
            "process_share_percent",
        )


def _check_exemptions(unit: Unit) -> None:
    for field in ("light_commercial", "open_drive", "bound"):
        if getattr(unit, field) not in ("", "yes", "no"):
            raise Refused("Choose yes or no, or leave it undecided.", field)
    if unit.light_commercial == "yes" and not unit.may_be_light_commercial:
        said = USES.get(unit.use, unit.equipment_said)
        raise Refused(
            f"{said} is no residential or light commercial A/C or heat pump: 40 CFR 84.106(a)(3)(ii) "
            "exempts air conditioning and heat pumps of that subsector alone. Take the mark away, or correct the kind.",
            "light_commercial",
        )
    if (unit.military or unit.below_minus_50) and not unit.exemption_proof:
        which = "military" if unit.military else "for products below -50 °C"
        raise Refused(f"Say what shows that it is {which}: a paper, its number and date.", "exemption_proof")
