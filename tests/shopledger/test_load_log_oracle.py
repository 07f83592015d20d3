"""Random logs against a second, plain reading of the rules: a dictionary of containers and of totals, in grams as
whole milligrams, written without looking at the program's own."""

import csv
import io
import random
from collections import defaultdict

import pytest
from django.core.management import call_command

from inventory.ledger.accounts import AccountClass
from inventory.ledger.models import Account, Movement
from inventory.ledger.verify import verify

pytestmark = pytest.mark.django_db
CAUSES = ["burst hose", "leaking valve", "Fall or impact", "the van was stolen"]
SCALES = {"": 1000, "S1": 1000, "S5": 5000}


def mpe(load, step):
    return step if load <= 500 * step else 2 * step if load <= 2000 * step else 3 * step


def within(difference, reading, step, gross, gross_step):
    limit = 4 * mpe(reading, step) ** 2 + step**2 + 4 * mpe(gross, gross_step) ** 2 + gross_step**2
    return 3 * difference**2 <= limit


class Plain:
    """What each container holds, and how much went from where to where."""

    def __init__(self):
        self.holds, self.tare, self.step = {}, {}, {}
        self.most = {}  # of the cans: what each was recorded to hold at most
        self.totals = defaultdict(int)

    def differ(self, code, difference, fits):
        if difference > 0:
            self.totals["weighing difference" if fits else "unexplained gain", "container"] += difference
        elif difference < 0:
            self.totals["container", "weighing difference" if fits else "unexplained loss"] += -difference
        self.holds[code] += difference

    def weigh(self, code, gross, scale):
        step, book = SCALES[scale], self.holds[code]
        if self.tare[code] is None:
            self.tare[code] = gross - book
        net = max(0, gross - self.tare[code])
        fits = within(net - book, gross, step, self.tare[code] + book, self.step.get(code) or step)
        self.differ(code, net - book, fits)
        self.step[code] = step
        if code in self.most:
            self.most[code] = max(self.most[code], net)

    def take(self, code, before, after, scale):
        self.weigh(code, before, scale)
        taken = before - after
        excess = taken - self.holds[code]
        if excess > 0:
            step = SCALES[scale]
            self.differ(code, excess, within(excess, after, step, self.tare[code], step))
        return taken

    def plausible(self, code, quantity):
        """At most 5/4 of what the can ever held: more is a fault, which `test_load_log.py` looks at."""
        return min(quantity, self.most[code] * 5 // 4) if code in self.most else quantity

    def give(self, code, quantity, target):
        self.holds[code] -= quantity
        self.totals["container", target] += quantity


def grams(milligrams):
    return f"{milligrams / 1000:.3f} g"


class Writer:
    """Makes up a log row by row, and tells the plain reading what the row says."""

    def __init__(self, seed):
        self.rng, self.plain, self.minute = random.Random(seed), Plain(), 0
        self.files = defaultdict(list)

    def when(self):
        self.minute += 7
        return f"2026-01-{2 + self.minute // 1440:02d}T{self.minute // 60 % 24:02d}:{self.minute % 60:02d}"

    def stock(self):
        for number in range(5):
            code, tare = f"CAN-{number}", self.rng.choice([None, 98_000])
            self.files["opening"].append(
                [
                    "2026-01-01",
                    code,
                    "can",
                    "R-134a",
                    "virgin",
                    "340 g",
                    "" if tare is None else "98 g",
                    "",
                    "",
                    "Store",
                ]
            )
            self.plain.holds[code], self.plain.tare[code], self.plain.most[code] = 340_000, tare, 340_000
        for code, kind in (("CYL", "refillable"), ("MAC", "machine"), ("REC", "recovery")):
            self.files["opening"].append(["2026-01-01", code, kind, "R-134a", "", "5 kg", "6 kg", "", "", "Bay"])
            self.plain.holds[code], self.plain.tare[code] = 5_000_000, 6_000_000
        self.plain.totals["opening", "container"] = 5 * 340_000 + 15_000_000

    def gross(self, code):
        """About what the container weighs: mostly right, at times a little or far off, never below nothing."""
        tare = self.plain.tare[code] if self.plain.tare[code] is not None else 101_000
        off = self.rng.choice([0, 0, 1, -1, 2, -2, 1.5, -1.825, 12, -25, 300])
        return max(1000, tare + self.plain.holds[code] + round(off * 1000))

    def event(self):
        kind = self.rng.choice(["job", "job", "job", "count", "decant", "move", "loss"])
        code = self.rng.choice(list(self.plain.holds))
        scale = self.rng.choice(list(SCALES))
        if kind == "count":
            gross = self.gross(code)
            if self.plain.tare[code] is None and gross < self.plain.holds[code]:
                return
            self.files["counts"].append([self.when(), code, scale, grams(gross), "", ""])
            self.plain.weigh(code, gross, scale)
        elif kind == "move":
            self.files["moves"].append([self.when(), code, f"Place {self.minute}", ""])
        elif kind == "loss" and self.plain.holds[code]:
            whole = self.rng.random() < 0.2
            quantity = self.plain.holds[code] if whole else self.rng.randrange(1, self.plain.holds[code] // 3 + 2)
            said = "" if whole else grams(quantity)
            self.files["losses"].append([self.when(), code, said, self.rng.choice(CAUSES), ""])
            self.plain.give(code, quantity, "other loss")
        elif kind == "decant" and code != "MAC":
            self.decant(code, scale)
        elif kind == "job":
            self.job()

    def decant(self, code, scale):
        if self.rng.random() < 0.4:
            quantity = self.plain.plausible(code, self.rng.randrange(0, 500_000))
            self.files["decants"].append([self.when(), code, "MAC", "", "", "", grams(quantity), ""])
            if quantity > self.plain.holds[code]:
                self.plain.differ(code, quantity - self.plain.holds[code], False)
        else:
            before = self.gross(code)
            after = before - self.rng.randrange(0, before // 2)
            if self.plain.tare[code] is None and before < self.plain.holds[code]:
                return
            self.files["decants"].append([self.when(), code, "MAC", scale, grams(before), grams(after), "", ""])
            quantity = self.plain.take(code, before, after, scale)
        self.plain.holds[code] -= quantity
        self.plain.holds["MAC"] += quantity

    def job(self):
        number = f"J{self.minute}"
        charges, lines = [], []
        losses = 0
        for _ in range(self.rng.randrange(1, 4)):
            code, scale = self.rng.choice(list(self.plain.holds)), self.rng.choice(list(SCALES))
            if self.rng.random() < 0.3:
                self.recover(lines, number, scale)
            elif self.rng.random() < 0.3:
                quantity = self.plain.plausible(code, self.rng.randrange(0, 500_000))
                lines.append([number, "charge", code, "", "", "", grams(quantity), ""])
                charges.append((len(lines) - 1, code, None, None, scale, quantity))
            else:
                before = self.gross(code)
                if self.plain.tare[code] is None:
                    continue
                after = before - self.rng.randrange(0, before // 2)
                lines.append([number, "charge", code, scale, grams(before), grams(after), "", ""])
                charges.append((len(lines) - 1, code, before, after, scale, before - after))
        total = sum(charge[5] for charge in charges)
        if total and self.rng.random() < 0.5:
            losses = self.rng.randrange(0, total + 1)
            lines.append([number, "line-loss", "", "", "", "", grams(losses), ""])
        self.files["jobs"].append([number, self.when(), "tess", "Ada", f"P{self.minute % 9}", "", "R-134a", "", ""])
        self.files["job_lines"] += lines
        by_line = {charge[0]: charge for charge in charges}
        for place, line in enumerate(lines):
            if line[1] == "recover":
                self.recovered(line)
            elif place in by_line:
                _, code, before, after, scale, quantity = by_line[place]
                if before is not None:
                    self.plain.take(code, before, after, scale)
                elif quantity > self.plain.holds[code]:
                    self.plain.differ(code, quantity - self.plain.holds[code], False)
                lost = min(losses, quantity)
                losses -= lost
                self.plain.give(code, lost, "line loss")
                self.plain.give(code, quantity - lost, "unit")

    def recover(self, lines, number, scale):
        quantity = self.rng.randrange(0, 300_000)
        if self.rng.random() < 0.5:
            lines.append([number, "recover", "REC", "", "", "", grams(quantity), ""])
        else:
            before = self.gross("REC")
            lines.append([number, "recover", "REC", scale, grams(before), grams(before + quantity), "", ""])

    def recovered(self, line):
        _, _, code, scale, before, after, quantity, _ = line
        if before:
            before, after = (round(float(text.split()[0]) * 1000) for text in (before, after))
            self.plain.weigh(code, before, scale)
            quantity = after - before
        else:
            quantity = round(float(quantity.split()[0]) * 1000)
        self.plain.holds[code] += quantity
        self.plain.totals["unit", "container"] += quantity

    def write(self, folder):
        heads = {
            "opening": "date,container,kind,substance,grade,net,tare,water_capacity,retest_due,location",
            "moves": "date,container,to_location,by",
            "decants": "date,from,to,scale,before,after,quantity,by",
            "jobs": "job,date,technician,customer,unit,vin,substance,charge_min,charge_max",
            "job_lines": "job,action,container,scale,before,after,quantity,note",
            "counts": "date,container,scale,gross,by,note",
            "losses": "date,container,quantity,cause,by",
        }
        for name, head in heads.items():
            with (folder / f"{name}.csv").open("w", newline="") as file:
                writer = csv.writer(file)
                writer.writerow(head.split(","))
                writer.writerows(self.files[name])
        (folder / "shop.csv").write_text("name,timezone,rulebook,readability\nOracle,UTC,generic,1 g\n")
        (folder / "scales.csv").write_text("code,readability\nS1,1 g\nS5,5 g\n")


@pytest.mark.parametrize("seed", range(12))
def test_a_random_log_says_what_a_plain_reading_says(tmp_path, seed):
    writer = Writer(seed)
    writer.stock()
    for _ in range(60):
        writer.event()
    writer.write(tmp_path)
    complaint = io.StringIO()
    call_command("load_log", str(tmp_path), stdout=io.StringIO(), stderr=complaint)
    found = defaultdict(int)
    for movement in Movement.objects.all():
        pair = AccountClass(movement.source_class).word, AccountClass(movement.target_class).word
        if pair != ("container", "container"):
            found[pair] += movement.quantity
    assert dict(found) == {pair: quantity for pair, quantity in writer.plain.totals.items() if quantity}
    balances = defaultdict(int)
    for name, balance in Account.objects.filter(cls=1).values_list("name", "balance"):
        balances[name] += balance
    assert {code: balances[code] for code in writer.plain.holds} == writer.plain.holds
    assert verify().faults == []
