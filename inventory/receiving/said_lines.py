"""Deliveries and opening stock as lines again: what a voucher says of each container, equal ones as one line."""

import re

from inventory.containers.arrivals import arrivals_of
from inventory.containers.models import Container
from inventory.containers.rows import BESIDES, LABEL
from inventory.correcting.again import MANY
from inventory.measures.pressure import show_pressure
from inventory.measures.quantity import exact

COUNTED = re.compile(r"(.*?)(\d{1,9})")
OF_EACH = ("code", "supplier_number")  # what no two containers share


def lines_of_voucher(detail: dict, person) -> list[dict[str, object]]:
    """What the form of each line held. Equal containers whose codes count on are one line. What is kept besides (price,
    retest, water capacity) is as it is known now, since it may have been changed since. person: in whose units."""
    said = arrivals_of(detail)
    rows = Container.objects.in_bulk([one["container"] for one in said], field_name="code")
    found: list[dict[str, object]] = []
    last, ended = None, ""
    for one in said:
        code, row = one["container"], rows[one["container"]]
        equal = {name: value for name, value in one.items() if name != "container" and name not in BESIDES}
        equal |= {name: getattr(row, name) for name in BESIDES if name != "deposit_back_on"}
        number = equal.pop("supplier_number")
        alike = equal == last and found and bool(number) == bool(found[-1]["supplier_number"][-1])
        if alike and code == _next(ended) and found[-1]["count"] < MANY:
            found[-1]["count"] += 1
            found[-1]["supplier_number"].append(number)
        else:
            found.append({**_line(code, equal, person), "supplier_number": [number]})
        last, ended = equal, code
    for line in found:
        line["supplier_number"] = ", ".join(filter(None, line["supplier_number"]))
    return found


def _line(code: str, one: dict, person) -> dict[str, object]:
    unit = person.volume_unit if one["is_oil"] else person.mass_unit
    return {
        "code": code,
        "count": 1,
        "kind": one["kind"],
        "substance": one["substance"],
        "grade": one["grade"],
        "net": exact(one["quantity"], unit) if one["quantity"] else "",
        "tare": one["tare"],
        "location": one["location"],
        "water_capacity": one["water_capacity_mg"],
        "test_pressure": "" if one["test_pressure_kpa"] is None else show_pressure(one["test_pressure_kpa"]),
        "stamped_most": one["stamped_most_mg"],
        "retest_due": one["retest_due"],
        "price": one["price_minor"],
        "deposit": one["deposit_minor"],
        **{name: one[name] for name in LABEL},
    }


def _next(code: str) -> str:
    """The code that counts on from one; blank where it ends in no number."""
    match = COUNTED.fullmatch(code)
    return f"{match[1]}{int(match[2]) + 1:0{len(match[2])}d}" if match else ""
