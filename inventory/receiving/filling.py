"""Lines of a delivery filled in: from one typed in a go, from the last delivery, from an order."""

from collections.abc import Iterable, Mapping

from django.http import QueryDict

from inventory.containers.holdings import GRADES
from inventory.ledger.models import Substance
from inventory.measures.quantity import parse_mass, parse_volume
from inventory.receiving.came import Book, kinds_before, like_before, lines_of_last
from inventory.receiving.forms import MOST_LINES, LineForm
from inventory.receiving.typed_lines import EXAMPLE, read_line
from inventory.reference.kinds import KINDS
from inventory.text.refusal import Refused

FILLS = ("more", "add", "last", "repeat")  # the buttons that fill in lines and post nothing
SAID_BY_ITSELF = {"count", "grade", "label_statement"}  # what does not make a line by being there
AS_BEFORE = {
    "net": "net",
    "price": "price",
    "deposit": "deposit",
    "tare": "tare",
    "location": "place",
}  # as they are named to people


def texts_of(line: Mapping[str, object], book: Book) -> dict[str, str]:
    """What stands in the fields of a line that is filled in so."""
    form = LineForm(initial=dict(line), book=book)
    values = {name: form[name].value() for name in form.fields}
    return {name: "on" if value is True else str(value) for name, value in values.items() if value not in (None, False)}


def typed_line(text: str, supplier: str, person, book: Book, *, deposits: bool = True) -> tuple[dict[str, str], str]:
    """The fields of a line that was typed in one go, the rest as such containers came last; and what was understood,
    in words. deposits: whether the line has a field for one. Raises Refused, where anything of it is open."""
    here = Substance.objects.values_list("code", flat=True)
    said = read_line(text, grades=GRADES, places=book.places, here=here)
    if said.deposit and not deposits:
        raise Refused("The deposit stands on the delivery or the invoice, an order has none: leave it out here.")
    kind = _kind(said.kinds, said.substance, said.is_oil)
    before = texts_of(like_before(kind, said.substance, supplier, person), book)
    own = {"kind": kind, "substance": said.substance, "count": str(said.count)}
    own |= {"net": said.net, "price": said.price, "deposit": said.deposit}
    own |= {"grade": said.grade, "location": said.place}
    own = {name: value for name, value in own.items() if value}
    if said.net and not _as_much(said.net, before.get("net", ""), said.is_oil):
        before = {name: value for name, value in before.items() if name in {"location", "grade"}}  # another size
    if not deposits:
        before.pop("deposit", None)
    fields = before | own
    words = [f"{said.count} × {KINDS[kind].label.partition(' (')[0]}", said.substance]
    words += [f"{fields['net']} each"] if fields.get("net") else ["empty"]
    words += [f"{fields['price']} {book.currency} each"] if fields.get("price") else []
    words += [f"deposit {fields['deposit']} {book.currency} each"] if fields.get("deposit") else []
    taken = [called for name, called in AS_BEFORE.items() if before.get(name) and not own.get(name)]
    return fields, ", ".join(words) + (f" ({', '.join(taken)} as last time)" if taken else "")


def _as_much(net: str, before: str, is_oil: bool) -> bool:
    """Whether two nets are the same amount, in whatever units they are typed."""
    read = parse_volume if is_oil else parse_mass
    try:
        return read(net) == read(before)
    except Refused:  # nothing came before, or what is typed is said to be wrong when it is posted
        return False


def ordered_lines(lines: Iterable[dict[str, object]], supplier: str, person, book: Book) -> list[dict[str, str]]:
    """The fields of lines for what was ordered; place, and of the same size tare, as such containers came last."""
    sorts, found = {}, []
    for line in lines:
        sort = (line["kind"], line["substance"])
        if sort not in sorts:
            sorts[sort] = texts_of(like_before(*sort, supplier, person), book)
        fields, before = texts_of(line, book), sorts[sort]
        known = ("location", "tare") if before.get("net") == fields.get("net") else ("location",)
        found.append({name: before[name] for name in known if name in before} | fields)
    return found


def _kind(named: tuple[str, ...], substance: str, is_oil: bool) -> str:
    """The kind that is meant: the one named, else the one in which that came."""
    fitting = [code for code in named or KINDS if KINDS[code].is_oil == is_oil]
    if not fitting:
        raise Refused(f"{substance} does not come in a {KINDS[named[0]].label}. Name what it is in, e.g. {EXAMPLE}.")
    if len(fitting) == 1:
        return fitting[0]
    came = [code for code in kinds_before(substance) if code in fitting]
    if len(came) == 1:
        return came[0]
    among = [KINDS[code].label.partition(" (")[0] for code in came or fitting]
    raise Refused(f"Is it in a {', a '.join(among[:-1])} or a {among[-1]}? Name it, e.g. {EXAMPLE}.")


def total_of(data: Mapping[str, str]) -> int:
    """How many lines a form has."""
    said = data.get("line-TOTAL_FORMS", "")
    return min(int(said), MOST_LINES) if said.isascii() and said.isdigit() and len(said) < 5 else 3


def is_blank(data: Mapping[str, str], place: int) -> bool:
    return not any(
        data.get(f"line-{place}-{name}", "").strip() for name in LineForm.base_fields if name not in SAID_BY_ITSELF
    )


def with_lines(data: QueryDict, lines: Iterable[Mapping[str, str]]) -> QueryDict:
    """A form with these lines in the first ones that are blank, and as many more as that takes."""
    data = data.copy()
    total, place = total_of(data), 0
    for line in lines:
        while place < total and not is_blank(data, place):
            place += 1
        if place == MOST_LINES:
            raise Refused(f"A delivery has {MOST_LINES} lines at most; post these, and enter the rest by another form.")
        total = max(total, place + 1)
        for name, value in line.items():
            data[f"line-{place}-{name}"] = value
        place += 1
    data["line-TOTAL_FORMS"] = str(total)
    return data


def line_in(data: Mapping[str, str], place: int) -> dict[str, str]:
    """What stands in a line, to be repeated: without what each container has of its own."""
    own = {"code", "supplier_number", "retest_due"}
    names = [name for name in LineForm.base_fields if name not in own]
    return {name: data[f"line-{place}-{name}"] for name in names if f"line-{place}-{name}" in data}


def filled_in(data: QueryDict, person, *, deposits: bool = True) -> tuple[QueryDict, dict[str, str]]:
    """What was typed, with lines filled in as a button asks; and what stands in the way of that, for the page."""
    book = Book()
    supplier, repeated = data.get("supplier", "")[:200], data.get("repeat", "")
    try:
        if "more" in data:
            data = data.copy()
            data["line-TOTAL_FORMS"] = str(min(total_of(data) + 3, MOST_LINES))
        elif "last" in data:
            data = with_lines(data, [texts_of(line, book) for line in lines_of_last(supplier, person)])
        elif repeated.isascii() and repeated.isdigit() and len(repeated) < 3:
            data = with_lines(data, [line_in(data, int(repeated))])
        elif "add" in data:
            data = with_lines(
                data, [typed_line(data.get("line_in_one_go", ""), supplier, person, book, deposits=deposits)[0]]
            )
            data["line_in_one_go"] = ""
    except Refused as refused:
        return data, {"short_problem": refused.message, "short": data.get("line_in_one_go", "")}
    return data, {}
