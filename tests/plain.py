"""A second, plain reading of what acts do to containers: dictionaries of whole milligrams, written without looking at
the program's own. It is told the acts in the order in which they happened, and knows of nothing else."""

from collections import defaultdict

GAS = "R-134a"


def mpe(load, step):
    return step if load <= 500 * step else 2 * step if load <= 2000 * step else 3 * step


def within(difference, reading, step, gross, gross_step):
    limit = 4 * mpe(reading, step) ** 2 + step**2 + 4 * mpe(gross, gross_step) ** 2 + gross_step**2
    return 3 * difference**2 <= limit


class Impossible(Exception):
    """An act that cannot have been, as the others are told."""


class Plain:
    """What each container holds, weighs empty, where it stands, and how much went from where to where."""

    def __init__(self, step=1000):
        self.scale = step
        self.holds, self.tare, self.step, self.place, self.grade = {}, {}, {}, {}, {}
        self.kind, self.gone, self.unnamed = {}, set(), set()
        self.most = {}  # what each was recorded to hold at most
        self.flows = defaultdict(int)
        self.owner, self.unknown, self.weighs = {}, set(), {}  # whose gas, what nobody knows, and what that weighed

    def tell(self, act):
        verb, *said = act
        getattr(self, verb)(*said)

    # -- the acts --------------------------------------------------------------------------------

    def come(self, *lines):
        """net None: it comes empty, and nobody says for what."""
        for code, kind, net, tare, grade in lines:
            if code in self.holds:
                raise Impossible
            self.kind[code], self.holds[code], self.tare[code], self.place[code] = kind, net or 0, tare, "Store"
            self.most[code] = net or 0
            self.grade[code] = grade
            if net is None:
                self.unnamed.add(code)
            self.flow("supplier", code, net)

    def bring(self, code, owner, gross, tare):
        """A customer's own cylinder."""
        self.come((code, "refillable", 0, tare, "virgin"))
        self.owner[code] = owner
        self.holds[code] = self.most[code] = gross - tare
        self.flow(f"customer {owner}", code, gross - tare)
        self.weigh(code, gross)

    def find(self, code, gross):
        self.come((code, "recovery", 0, None, ""))
        self.unknown.add(code)
        self.weighs[code], self.step[code] = gross, self.scale

    def identify(self, code, tare):
        if code not in self.unknown or code in self.gone or tare > self.weighs[code]:
            raise Impossible
        self.unknown.discard(code)
        self.tare[code], self.grade[code] = tare, "recovered"
        self.flow("found", code, self.weighs[code] - tare)
        self.holds[code] = self.most[code] = self.weighs[code] - tare

    def keep(self, code, owner):
        self.here(code)
        if self.holds[code]:
            raise Impossible
        self.owner[code] = owner

    def give(self, code, owner, stays):
        self.here(code)
        if not owner or self.whose(code) != owner:
            raise Impossible
        self.flow(code, f"customer {owner}", self.holds[code])
        self.holds[code] = 0
        if stays:
            self.owner[code] = ""
        else:
            self.gone.add(code)

    def whose(self, code):
        return self.owner.get(code, "")

    def meant(self, known, *codes, unit):
        """Whose gas these hold is what it was when the act was entered. known: that, by code, kept with the act; blank
        as long as it is not. unit: whose equipment the act is about, None: of one another's alone."""
        for code in codes:
            owner = known.setdefault(code, self.whose(code))
            allowed = unit if unit is not None else self.whose(codes[0])
            if owner != self.whose(code) or (unit is None or owner) and owner != allowed:
                raise Impossible

    def draw(self, code, unit, before, after, quantity, lost, known):
        """lost: how much of it stayed in the hoses."""
        self.here(code)
        self.meant(known, code, unit=unit)
        if before is not None:
            self.weigh(code, before)
        else:
            self.may_have_held(code, quantity)
        taken = quantity if before is None else before - after
        self.excess(code, taken, before, after)
        self.flow(code, "line loss", lost)
        self.flow(code, f"unit {unit}", taken - lost)
        self.holds[code] -= taken

    def fill(self, code, unit, before, after, quantity, known):
        self.here(code)
        self.meant(known, code, unit=unit)
        if self.kind[code] == "can":
            raise Impossible
        self.unnamed.discard(code)
        if before is not None:
            self.weigh(code, before)
        put = quantity if quantity is not None else after - before
        self.flow(f"unit {unit}", code, put)
        self.holds[code] += put

    def decant(self, code, into, before, after, quantity, known):
        self.here(code, into)
        self.meant(known, code, into, unit=None)
        if self.kind[into] == "can":
            raise Impossible
        if before is not None:
            self.weigh(code, before)
        else:
            self.may_have_held(code, quantity)
        taken = quantity if before is None else before - after
        self.excess(code, taken, before, after)
        self.flow(code, into, taken)
        self.holds[code] -= taken
        self.holds[into] += taken
        if code not in self.unnamed:
            self.unnamed.discard(into)

    def count(self, code, gross):
        self.here(code)
        self.weigh(code, gross)

    def move(self, code, to):
        self.here(code, unknown=True)
        self.change(code, self.place, to)

    def regrade(self, code, to):
        self.here(code)
        self.change(code, self.grade, to)

    def ship(self, code, quantity):
        self.here(code)
        quantity = self.holds[code] if quantity is None else quantity
        if quantity > self.holds[code] or self.whose(code):
            raise Impossible
        self.flow(code, "reclaimer", quantity)
        self.holds[code] -= quantity

    def retire(self, code, into):
        self.here(code, *filter(None, [into]))
        if self.holds[code] and (self.whose(code) or self.whose(into)):
            raise Impossible
        if into and self.holds[code] and self.kind[into] == "can":
            raise Impossible
        self.flow(code, into or "heel loss", self.holds[code])
        if into:
            self.holds[into] += self.holds[code]
            self.most[into] = max(self.most[into], self.holds[into])
            if self.holds[code]:
                self.unnamed.discard(into)
        self.holds[code] = 0
        self.gone.add(code)

    def new_tare(self, code, tare):
        self.here(code)
        self.tare[code] = tare

    # -- the pieces ------------------------------------------------------------------------------

    def may_have_held(self, code, quantity):
        if self.kind[code] in {"can", "oil"} and quantity > self.most[code] * 1.25:
            raise Impossible

    def here(self, *codes, unknown=False):
        for code in codes:
            if code not in self.holds or code in self.gone or code in self.unknown and not unknown:
                raise Impossible

    def account(self, name):
        if name in self.holds:
            return (name, self.place[name], self.grade[name], self.whose(name))
        return name

    def flow(self, source, target, quantity):
        if quantity:
            self.flows[self.account(source), self.account(target)] += quantity

    def change(self, code, of, to):
        old = self.account(code)
        of[code] = to
        if self.holds[code] and self.account(code) != old:
            self.flows[old, self.account(code)] += self.holds[code]

    def weigh(self, code, gross):
        book = self.holds[code]
        if self.tare[code] is None:
            if gross < book:
                raise Impossible
            self.tare[code] = gross - book
        net = max(0, gross - self.tare[code])
        fits = within(net - book, gross, self.scale, self.tare[code] + book, self.step.get(code) or self.scale)
        if not (fits and code in self.unnamed):
            self.differ(code, net - book, fits)
        self.most[code] = max(self.most[code], self.holds[code])
        self.step[code] = self.scale

    def excess(self, code, taken, before, after):
        """More was taken out than the book had: there must have been more in it."""
        more = taken - self.holds[code]
        if more > 0:
            fits = before is not None and within(more, after, self.scale, self.tare[code], self.scale)
            self.differ(code, more, fits)

    def differ(self, code, difference, fits):
        if difference and code in self.unnamed:
            raise Impossible
        if difference > 0:
            self.flow("weighing difference" if fits else "unexplained gain", code, difference)
        elif difference < 0:
            self.flow(code, "weighing difference" if fits else "unexplained loss", -difference)
        self.holds[code] += difference
