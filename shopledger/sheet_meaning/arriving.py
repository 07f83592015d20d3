"""Sheets of what stands in the store, and of what came from suppliers. Pure."""

import calendar
import re
from decimal import Decimal

from inventory.measures.quantity import show
from inventory.plausible.judging import CANNOT, Answer, judge
from inventory.plausible.masses import Net, Tare
from inventory.plausible.typed import Typed
from inventory.plausible.vessels import Vessel
from inventory.reference.kinds import KINDS
from shopledger.sheet_meaning.asking import LEFT_OUT
from shopledger.sheet_meaning.building import Builder, Line, repeated
from shopledger.sheet_meaning.kinds_of_sheet import called
from shopledger.sheet_meaning.reader import Skip
from shopledger.sheet_meaning.values import Unread, figure, is_nothing, quantity, said_g
from shopledger.sheets.grid import ERROR, NUMBER, TEXT, Cell

# CAN-1 to CAN-12, CAN-001 - 012; not CA-19-20, which is a code
RANGE = re.compile(
    r"(.*?)([0-9]{1,9})(?:\s+(?:-|–|to|bis|à|a|hasta|\.\.\.?|…)\s+(?:\1)?|\s*(?:-|–|…)\s*\1)([0-9]{1,9})"
)
SIZE = re.compile(r"(?<![\w.,])([0-9][0-9.,]*\s?(?:kg|g|oz|lb|lbs|ml|l))\b", re.IGNORECASE)
CURRENCY = re.compile(r"[€$£]|\b[A-Z]{3}\b|\bFr\.?")
EACH, ALL = "each", "all"
ROUNDED = 10_000  # mg by which weights of a row may differ, as they were rounded; or a hundredth: common practice


class Arriving(Builder):
    """file: of the log."""

    file = "opening.csv"

    def __init__(self, *args):
        super().__init__(*args)
        counted = self.reader.counted("container") if self.reader.has("container") else {}
        self.taken = set(counted)
        self.repeated = repeated(counted)
        self.free: dict[str, object] = {}
        self.judged: dict[tuple, Answer] = {}

    def line(self, line: Line) -> None:
        date = self.day(line)
        substance, oil = self.substance(line)
        count, net = self._count_and_net(line, oil=oil)
        kind = self.kind(line, substance, oil=oil, size=net)
        tare = self._each(line, "tare", count, oil=False)
        if line.whole and not oil:
            self._may_be(line, "net", kind, net, Net(kind, ()))
            self._may_be(line, "tare", kind, tare, Tare(Vessel(kind, substance, nominal=net)))
        cells = {
            "date": date,
            "kind": kind,
            "substance": substance,
            "grade": self.grade(line, oil=oil),
            "net": said_g(net, oil=oil),
            "tare": "" if oil or tare is None else said_g(tare, oil=False),
            "water_capacity": self._water(line),
            "retest_due": self._retest(line),
            "location": self.named(line, "location"),
        }
        cells |= self.more(line)
        prices = self._prices(line, count)
        codes = self._codes(line, count, kind)
        if not line.whole:
            return
        for code, price in zip(codes, prices, strict=True):
            self.built.add(self.file, line.row, **cells, container=code, **({"price": price} if price else {}))
        self.built.says[line.row] = self._said(cells, codes, net, oil=oil)

    def more(self, line: Line) -> dict[str, str]:
        return {}

    def _said(self, cells: dict[str, str], codes: list[str], net: int, *, oil: bool) -> str:
        label = KINDS[cells["kind"]].label.split(" (")[0]
        amount = show(net, "mL" if oil else "g") if net else "empty"
        named = codes[0] if len(codes) == 1 else f"{codes[0]} to {codes[-1]}"
        many = f"{len(codes)} × " if len(codes) > 1 else ""
        return f"{many}{label} of {cells['substance']}, {amount}{' each' if many else ''}: {named}"

    def _may_be(self, line: Line, name: str, kind: str, amount: int | None, known: Net | Tare) -> None:
        """What cannot be is a fault; what is unlikely is asked once for all of its kind and size, as pages do."""
        if not amount or not KINDS.get(kind):
            return
        key = (name, kind, amount, getattr(known, "vessel", None))
        if key not in self.judged:
            self.judged[key] = judge(Typed.quantity(amount, "kg" if amount >= 10_000_000 else "g"), known)
        answer = self.judged[key]
        if answer.fits:
            return
        if answer.answer == CANNOT:
            line.take(name, lambda: _refuse(answer.said))
            return
        label = KINDS[kind].label.split(" (")[0]
        text = f"{answer.typed.text} as {called(name)} of a {label} in {{n}}: is that right? {answer.why}"
        choices = (("yes", "yes, it is right"), (LEFT_OUT, "no, leave these rows out"))
        id = f"sure:{name}:{kind}:{len(str(amount))}"
        if line.take(name, lambda: self.asking.ask(id, text, choices, line.place(name), lasting=False), "") == LEFT_OUT:
            raise Skip

    # -- how many, how much ----------------------------------------------------------------------

    def _count_and_net(self, line: Line, *, oil: bool) -> tuple[int, int]:
        """How many containers, and mg (uL) in each."""
        count = self._count(line)
        found = self.amount(line, "net", oil=oil)
        if found is None:
            net = self._without_net(line, count, oil=oil) if line.whole else 0
            return count or 1, net
        net, pack = found
        if pack is not None:
            return self._packs(line, count, pack), net
        net = self._agreed(line, net, oil=oil)
        if count is not None and count > 1 and net:
            net = self._shared(line, "net", net, count)
        return (1 if count is None else count), net

    def _agreed(self, line: Line, net: int, *, oil: bool) -> int:
        """What is in it where the row says it twice: as such, and by its weights. Asked once where the two differ by
        more than rounding: a size (30 lb) is not what is left in it."""
        if oil or not (self.reader.has("gross") and self.reader.has("tare")):
            return net
        gross, tare = self.amount(line, "gross"), self.amount(line, "tare")
        if not (gross and tare and gross[0] and line.whole):
            return net
        weighed = gross[0] - tare[0]
        if abs(weighed - net) <= max(ROUNDED, gross[0] // 100):
            return net
        shown = (self.reader.heads[self.reader.columns["net"]].text or called("net"), show(net, "g"))
        said = f"{{n}}: {shown[0]} says {shown[1]}, and full less empty weight is {show(weighed, 'g')}. Which counts?"
        choices = (("net", f"what stands under {shown[0]}"), ("weights", "full less empty weight"))
        answer = line.take("net", lambda: self.asking.ask("twice:net", said, choices, line.place("net")), "net")
        if answer == "weights" and weighed < 0:
            line.take("gross", lambda: _refuse("this is less than the empty weight; one of the two is wrong."))
        return net if answer == "net" else max(0, weighed)

    def _count(self, line: Line) -> int | None:
        if not self.reader.has("count"):
            return self._range(line)
        count = line.take("count", lambda: self.reader.count(line.row, "count"))
        if count is None and line.whole:
            choices = (("one", "one container"), (LEFT_OUT, "leave these rows out"))
            said = "In {n} nothing says how many. What is meant?"
            answer = line.take(
                "count", lambda: self.asking.ask("blank:count", said, choices, line.place("count")), "one"
            )
            if answer == LEFT_OUT:
                raise Skip
            return 1
        if count == 0:
            raise Skip
        return count

    def _range(self, line: Line) -> int | None:
        """How many containers codes from one to another are, where no column says how many."""
        said = line.text("container")
        match = RANGE.fullmatch(said)
        if not match or not match[1] or not 0 < int(match[3]) - int(match[2]) < 500:
            return None
        count = int(match[3]) - int(match[2]) + 1
        text = f"{said[:40]} stands in one row. Is that {count} containers?"
        choices = (("range", f"yes, {count} of them"), ("code", "no, one container of that code"))
        answer = line.take(
            "container", lambda: self.asking.ask("range", text, choices, line.place("container")), "code"
        )
        return count if answer == "range" else None

    def _packs(self, line: Line, count: int | None, pack: int) -> int:
        """12 x 340 g in a row that says how many besides: boxes of twelve, or the twelve themselves."""
        if count is None:
            return pack
        text = self.reader.cell(line.row, "net").text
        said = f"{text[:30]} stands beside a number of {count}. How many is that in all?"
        choices = (("times", f"{count * pack}: {count} boxes"), ("same", f"{pack}: the cell itself says how many"))
        answer = line.take("count", lambda: self.asking.ask("boxes", said, choices, line.place("net")), "times")
        return count * pack if answer == "times" else pack

    def _shared(self, line: Line, name: str, amount: int, count: int) -> int:
        """Of each, where the figure may be of each or of all of a row together."""
        each = self.reader.heads[self.reader.columns[name]].each
        if each is None:
            head = self.reader.heads[self.reader.columns[name]].text or called(name)
            said = f"{count} of them, and {head} {self.reader.cell(line.row, name).text[:24]}"
            text = f"{said}: is that of each, or of all in the row together?"
            choices = ((EACH, "of each"), (ALL, "of all in the row together"))
            each = (
                line.take(name, lambda: self.asking.ask(f"each:{name}", text, choices, line.place(name)), EACH) == EACH
            )
        if each:
            return amount
        if amount % count:
            line.take(
                name,
                lambda: _refuse(f"this does not divide by {count} to the milligram; give each its row."),
            )
        return amount // count

    def _each(self, line: Line, name: str, count: int, *, oil: bool) -> int | None:
        found = self.amount(line, name, oil=oil)
        if found is None:
            return None
        return self._shared(line, name, found[0], count) if count > 1 and found[0] else found[0]

    def _without_net(self, line: Line, count: int | None, *, oil: bool) -> int:
        """What is in it where no net stands there: by its weights, by the size in its description, or nothing."""
        if not oil and self.reader.has("gross"):
            gross, tare = (
                self._each(line, "gross", count or 1, oil=False),
                self._each(line, "tare", count or 1, oil=False),
            )
            if gross is not None and tare is not None:
                if gross < tare:
                    line.take("gross", lambda: _refuse("this is less than the empty weight; one of the two is wrong."))
                return max(0, gross - tare)
            if gross is not None and line.whole:
                line.take("tare", lambda: _refuse("the empty weight is missing, so nobody knows what is in it."))
        elif (size := SIZE.search(self.reader.cell(line.row, "substance").text)) and not self.reader.has("net"):
            said = f"No column says how much is in each. Is it the size that its name says, e.g. {size[1]}?"
            choices = (("size", "yes, each is full"), (LEFT_OUT, "no, leave these rows out"))
            answer = line.take(
                "substance", lambda: self.asking.ask("size", said, choices, line.place("substance")), "size"
            )
            if answer == LEFT_OUT:
                raise Skip
            read = line.take("substance", lambda: self._sized(size[1], oil=oil), 0)
            return read
        choices = (("empty", "they are empty"), (LEFT_OUT, "leave these rows out"))
        said = "In {n} nothing says how much is in it. What is meant?"
        if (
            line.whole
            and line.take("net", lambda: self.asking.ask("blank:net", said, choices, line.place("net")), "") == LEFT_OUT
        ):
            raise Skip
        return 0

    def _sized(self, text: str, *, oil: bool) -> int:
        read = figure(Cell(text, TEXT))
        if not read.is_certain:
            raise Unread(f"{text} can be read in two ways.")
        return quantity(read.readings["."], read.unit, oil=oil)

    # -- the rest --------------------------------------------------------------------------------

    def _water(self, line: Line) -> str:
        found = line.take("water_capacity", lambda: self.reader.figure(line.row, "water_capacity"))
        if found is None:
            return ""
        head = self.reader.heads[self.reader.columns["water_capacity"]].unit
        unit = found[1].unit or head
        if not unit:
            choices = (("L", "litres"), ("kg", "kilograms of water"), ("lb", "pounds of water"))
            said = (
                f"In which unit is the water capacity, e.g. {self.reader.cell(line.row, 'water_capacity').text[:24]}?"
            )
            unit = line.take(
                "water_capacity",
                lambda: self.asking.ask("unit:water_capacity", said, choices, line.place("water_capacity")),
                "L",
            )
        return f"{found[0]:f} {unit}"

    def _retest(self, line: Line) -> str:
        cell = self.reader.cell(line.row, "retest_due")
        match = (
            re.fullmatch(r"(?:([0-9]{1,2})[./-]([0-9]{4})|([0-9]{4})[./-]([0-9]{1,2}))", cell.text)
            if cell.kind == TEXT
            else None
        )
        if not match:
            return self.falls_due(line, "retest_due")
        year, month = int(match[2] or match[3]), int(match[1] or match[4])
        if not 1 <= month <= 12:
            line.take("retest_due", lambda: _refuse(f"{cell.text} is no month."))
            return ""
        choices = (("first", "from the first day of the month"), ("last", "after its last day"))
        said = f"The retest is due in a month, e.g. {cell.text}: from when?"
        answer = line.take(
            "retest_due", lambda: self.asking.ask("month:retest_due", said, choices, line.place("retest_due")), "first"
        )
        if answer == "first":
            return f"{year:04}-{month:02}-01"
        return f"{year:04}-{month:02}-{calendar.monthrange(year, month)[1]:02}"

    def _prices(self, line: Line, count: int) -> list[str]:
        return [""] * count

    def _codes(self, line: Line, count: int, kind: str) -> list[str]:
        said = line.text("container")
        if count > 1 and (match := RANGE.fullmatch(said)) and int(match[3]) - int(match[2]) + 1 == count:
            width = len(match[2])
            return [f"{match[1]}{number:0{width}d}" for number in range(int(match[2]), int(match[3]) + 1)]
        if said and count == 1 and said not in self.repeated:
            return [said]
        if said:
            text = "The same code stands for several containers in {n}, e.g. " + said[:30] + ". What then?"
            choices = (("new", "give each the next free code"), (LEFT_OUT, "leave these rows out"))
            if (
                line.take("container", lambda: self.asking.ask("codes", text, choices, line.place("container")), "new")
                == LEFT_OUT
            ):
                raise Skip
        if not kind:
            return [""] * count
        prefix = KINDS[kind].prefix
        free = self.free.setdefault(prefix, self.known.free_codes(prefix, self.taken))
        return [next(free) for _ in range(count)]


class Deliveries(Arriving):
    file = "receipts.csv"

    def more(self, line: Line) -> dict[str, str]:
        if self.reader.has("supplier"):
            supplier = self.above(line, "supplier", self.named(line, "supplier"))
        else:
            supplier = self.once(line, "supplier", "No column says who delivered it. Who did?")
        return {
            "document": line.text("document"),
            "supplier": supplier,
            "received_by": self.person(line, "received_by"),
        }

    def _prices(self, line: Line, count: int) -> list[str]:
        """Of each container, so that all together are what the sheet says."""
        number = line.take("price", lambda: self._price(line))
        if number is None:
            return [""] * count
        places = self.known.money_places
        minor = number.scaleb(places)
        if minor != int(minor) or number < 0:
            line.take("price", lambda: _refuse(f"this is no amount of money with {places} decimals."))
            return [""] * count
        minor = int(minor)
        shares = [minor] * count
        if count > 1:
            each = self.reader.heads[self.reader.columns["price"]].each
            if each is None:
                said = "Is the price that of each container, or of all in the row together?"
                choices = ((EACH, "of each"), (ALL, "of all together"))
                each = (
                    line.take("price", lambda: self.asking.ask("each:price", said, choices, line.place("price")), EACH)
                    == EACH
                )
            if not each:
                shares = [minor // count + (at < minor % count) for at in range(count)]
        return [f"{Decimal(share).scaleb(-places):f}" for share in shares]

    def _price(self, line: Line) -> Decimal | None:
        cell = self.reader.cell(line.row, "price")
        if is_nothing(cell) or cell.kind == ERROR:
            return None if cell.kind != ERROR else _refuse(f"this is {cell.text}.")
        if cell.kind == NUMBER:
            return cell.number
        read = figure(Cell(CURRENCY.sub(" ", cell.text).strip(), TEXT))
        if read.is_certain:
            return read.readings["."]
        return self.reader.figure(line.row, "price")[0]


def _refuse(message: str):
    raise Unread(message)
