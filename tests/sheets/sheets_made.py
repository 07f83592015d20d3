"""Whole sheets of each kind, by the habits of `habits.py`."""

import datetime as dt
from fractions import Fraction

from tests.sheets.habit_words import OILS
from tests.sheets.habits import (
    CUSTOMERS,
    GASES,
    KIND_WORDS,
    MG,
    PEOPLE,
    PLACES,
    START,
    SUPPLIERS,
    UL,
    Made,
    Writer,
    whole,
)

SIZES = {"can": (250, 900), "disposable": (5000, 13600), "refillable": (200, 12000), "recovery": (200, 9000)}
STOCK_OF = {gas: f"CYL-9{number:03}" for number, gas in enumerate(GASES)}
RECOVERY_OF = {gas: f"REC-9{number:03}" for number, gas in enumerate(GASES)}


def made(seed: int, kind: str | None = None) -> Made:
    writer = Writer(seed, kind)
    pages = {"stock": arriving, "deliveries": arriving, "jobs": jobs, "counts": counts}[writer.made.kind](writer)
    return writer.write(pages)


def arriving(w: Writer):
    luck, delivered = w.luck, w.made.kind == "deliveries"
    boxes = luck.choice(["count", "count", "cell", "one"])
    each = luck.random() < 0.6
    w.made.of |= {"each": "each" if each else "all", "boxes": "times", "date": START.isoformat()}
    w.made.of |= {"supplier": SUPPLIERS[0], "blank:date": "above", "blank:supplier": "above"}
    w.habit(f"boxes: {boxes}")
    has = {
        "container": boxes == "one" or luck.random() < 0.4,
        "kind": luck.random() < 0.85,
        "location": luck.random() < 0.7,
        "tare": luck.random() < 0.3,
        "date": delivered or luck.random() < 0.5,
        "document": delivered and luck.random() < 0.7,
        "supplier": delivered and luck.random() < 0.85,
        "note": luck.random() < 0.4,
        "count": boxes == "count",
        "measure": w.unit_at == "column",
    }
    fields = [
        name
        for name in (
            "date",
            "document",
            "supplier",
            "container",
            "substance",
            "kind",
            "count",
            "net",
            "measure",
            "tare",
            "location",
            "note",
        )
        if has.get(name, True)
    ]
    if luck.random() < 0.4:
        luck.shuffle(fields)
        w.habit("columns in any order")
    if w.chance(0.15, "an empty column"):
        fields.insert(len(fields) - 1, None)
    w.titles(len(fields))
    columns = w.heads(fields, units=("net", "tare"))
    first = w.at
    kinds = luck.choice(
        [["can"], ["can", "refillable"], ["disposable", "refillable", "recovery"], ["can", "disposable"]]
    )
    if not has["kind"]:
        kinds = kinds[:1]
    words = {kind: luck.choice(KIND_WORDS[w.language][kind]) for kind in (*kinds, "oil")}
    oils = luck.random() < 0.3 and w.unit_at in {"cell", "nowhere"}
    w.made.of["unit:net:oil"] = "mL"
    rows, day = luck.randint(5, 35), START
    for number in range(rows):
        if luck.random() < 0.04 and number:
            w.at += 1  # a blank row
        if number == 12 and luck.random() < 0.3:
            w.heads_again()
        if delivered:
            day += dt.timedelta(luck.choice([0, 0, 1, 3, 9]))
        arrival(
            w,
            columns,
            luck.choice(kinds),
            number,
            boxes=boxes,
            each=each,
            words=words,
            oil=oils and luck.random() < 0.2,
            day=day if has["date"] else START,
        )
    if w.format == "xlsx" and w.chance(0.15, "hidden rows"):
        w.page.hidden |= {first + 1}
    w.foot(columns, "net" if boxes != "cell" else "note", first)
    return w.second_table(len(fields))


def arrival(w: Writer, columns, kind, number, *, boxes, each, words, oil, day):
    luck, page, row = w.luck, w.page, w.at
    gas = luck.choice(OILS) if oil else luck.choice(GASES[: 2 + w.made.seed % 4])
    count = 1 if boxes == "one" or oil or kind in {"refillable", "recovery"} else luck.choice([1, 2, 6, 10, 12, 24])
    if oil:
        kind, net = "oil", 250_000
        shown = w.cell(250, 0, "mL") if w.unit_at == "cell" else w.number(250, 0)
        net = whole(250 * UL["mL"])
    elif boxes == "count" and not each and count > 1:
        shown, one = w.amount(SIZES[kind])
        net = one  # of all together: written as a multiple, so that it divides
        value = _times(w, shown, count)
        if value is None:
            count = 1
        else:
            shown, net = value[0], value[1]
    else:
        shown, net = w.amount(SIZES[kind])
        if boxes == "cell" and count > 1:
            value = getattr(shown, "value", shown)
            text = value if isinstance(value, str) else f"{value:.15g}".replace(".", "," if w.comma else ".")
            if w.unit_at == "format":
                text += f" {w.unit}"
            shown = f"{count} x {text}"
    record = {
        "substance": gas,
        "kind": kind,
        "net": net,
        "count": count,
        "code": "",
        "location": "",
        "tare": None,
        "day": day,
    }
    put = lambda name, value: page.put(row, columns[name], value) if name in columns else None  # noqa: E731
    put("substance", w.gas(gas))
    put("kind", words[kind])
    put("count", count)
    put("net", shown)
    put("measure", "mL" if oil else w.unit)
    same = day == w.last_day and w.as_above != "said"
    put("date", w.day(day) if not same else '"' if w.as_above == "ditto" else None)
    if same and "date" in columns:
        w.habit(f"day as above: {w.as_above}")
    w.last_day = day if "date" in columns else None
    put("document", f"D-{day:%m%d}")
    if "supplier" in columns:
        record["supplier"] = SUPPLIERS[day.toordinal() % 3]
        put("supplier", w.spelled(record["supplier"]))
    elif w.made.kind == "deliveries":
        record["supplier"] = SUPPLIERS[0]
    if "container" in columns and count == 1 and (boxes == "one" or luck.random() < 0.7):
        record["code"] = f"{kind[:2].upper()}{w.made.seed}-{number}"
        put("container", record["code"])
    if "tare" in columns and kind in {"refillable", "recovery"}:
        shown, record["tare"] = w.amount((4000, 12000))
        put("tare", shown)
    if "location" in columns:
        record["location"] = luck.choice(PLACES)
        put("location", w.spelled(record["location"]))
    if "note" in columns and luck.random() < 0.3:
        put("note", luck.choice(["ok", "new", "dented cap"]))
    w.made.rows[page.name, row] = record
    w.at += 1


def _times(w: Writer, shown, count):
    """A figure of all together that divides by the count; None where the sheet's digits cannot say it."""
    unit = w.unit
    per = {"g": 340, "kg": 0.5, "oz": 12, "lb": 2}[unit]
    one = Fraction(per) * MG[unit]
    total = whole(one * count)
    if total % count:
        return None
    value = Fraction(per) * count
    return w.cell(value, 1, unit), total // count


def jobs(w: Writer):
    luck = w.luck
    has = {
        "job": luck.random() < 0.7,
        "substance": luck.random() < 0.8,
        "customer": luck.random() < 0.85,
        "recovered": luck.random() < 0.7,
        "container": luck.random() < 0.3,
        "note": luck.random() < 0.4,
        "measure": False,
    }
    if w.unit_at == "column":
        w.unit_at = "nowhere"
    fields = [
        name
        for name in (
            "job",
            "date",
            "technician",
            "customer",
            "unit",
            "substance",
            "recovered",
            "charged",
            "container",
            "note",
        )
        if has.get(name, True)
    ]
    if w.chance(0.3, "columns in any order"):
        luck.shuffle(fields)
    w.titles(len(fields))
    columns = w.heads(fields, units=("charged", "recovered"))
    first, day = w.at, START + dt.timedelta(30)
    gases = GASES[:1] if not has["substance"] else GASES[: 1 + w.made.seed % 3]
    w.made.of |= {"substance": gases[0], "unit:charged": w.unit, "unit:recovered": w.unit}
    called = {
        "tara": luck.choice(["Tara", "Tara Quill", "tara", "TQ"]),
        "timo": luck.choice(["Timo", "Timo Brandt", "T. Brandt"]),
    }
    for number in range(luck.randint(5, 40)):
        day += dt.timedelta(luck.choice([0, 1, 1, 2, 6]))
        gas, who, row = luck.choice(gases), luck.choice(list(called)), w.at
        record = {
            "day": day,
            "technician": who,
            "substance": gas,
            "job": f"W{w.made.seed}-{number}" if has["job"] else "",
            "customer": "",
            "recovered": 0,
        }
        record |= {"from": STOCK_OF[gas], "into": RECOVERY_OF[gas]}
        put = lambda name, value, row=row: w.page.put(row, columns[name], value) if name in columns else None  # noqa: E731
        put("job", record["job"])
        put("date", w.day(day))
        put("technician", called[who])
        if has["customer"]:
            record["customer"] = CUSTOMERS[number % len(CUSTOMERS)]
            put("customer", w.spelled(record["customer"]))
        record["unit"] = f"EX {w.made.seed} {number % 7}{len(CUSTOMERS)}{number % len(CUSTOMERS)}"
        put("unit", record["unit"])
        put("substance", w.gas(gas))
        shown, record["charged"] = w.amount((100, 900))
        put("charged", shown)
        if has["recovered"] and luck.random() < 0.6:
            shown, record["recovered"] = w.amount((50, 500))
            put("recovered", shown)
        put("container", record["from"])
        w.made.rows[w.page.name, row] = record
        w.at += 1
    w.foot(columns, "charged", first)
    return w.second_table(len(fields))


def counts(w: Writer):
    if w.unit_at == "column":
        w.unit_at = "head"
    fields = ["date", "container", "gross", "by"]
    w.titles(4)
    columns = w.heads(fields, units=("gross",))
    first, day = w.at, START + dt.timedelta(20)
    for code in [*STOCK_OF.values()]:
        shown, gross = w.amount((61_000, 90_000))
        w.page.put(w.at, columns["date"], w.day(day))
        w.page.put(w.at, columns["container"], w.luck.choice([code, code.lower(), code.replace("-", " ")]))
        w.page.put(w.at, columns["gross"], shown)
        w.page.put(w.at, columns["by"], w.luck.choice(list(PEOPLE.values())))
        w.made.rows[w.page.name, w.at] = {"day": day, "code": code, "gross": gross}
        w.at += 1
    w.foot(columns, "gross", first)
    return w.second_table(4)
