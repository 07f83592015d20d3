"""Proves an inspection bundle with Python's standard library alone: python3 verify.py [--head DIGEST] [FOLDER or ZIP]
DIGEST: printed or handed over earlier. Ends with 0 where the bundle holds and DIGEST says whose it is, else with 1.
Whoever forges a bundle forges this file too: take it from the program, or compare its SHA-256 with the README's."""

import csv
import hashlib
import json
import sys
import zipfile
from collections import Counter
from datetime import date, timedelta
from itertools import chain, groupby
from pathlib import Path

BESIDE = {"manifest.json", "receipt.json"}  # the list of the files cannot name itself, nor what was made after it
CAME = {"supplier": "received", "unit": "recovered", "reclassified": "reclassified_in"}  # other columns are called
WENT = {"supplier": "returned", "unit": "charged", "reclassified": "reclassified_out"}  # as their accounts are
WENT.update(reclaimer="reclaimed", destroyer="destroyed", buyer="sold")


class Wrong(Exception):
    """The bundle does not hold; the message is a sentence."""


def demand(holds, sentence):
    if not holds:
        raise Wrong(sentence)


def sha(text):
    return hashlib.sha256(text if isinstance(text, bytes) else text.encode()).hexdigest()


class Bundle:
    """The files of a bundle, in a folder or in a ZIP. at: the entry whose digest somebody kept, 0 where none is."""

    def __init__(self, path):
        packed, found = None if Path(path).is_dir() else zipfile.ZipFile(path), Path(path).rglob("*")
        self.open = packed.open if packed else lambda name: (Path(path) / name).open("rb")
        self.names = packed.namelist() if packed else [o.relative_to(path).as_posix() for o in found if o.is_file()]
        demand({*self.names} >= BESIDE, f"{min(BESIDE - {*self.names}, default='')} is missing.")
        self.listed, self.receipt = self.open("manifest.json").read(), json.load(self.open("receipt.json"))
        self.manifest, self.moved, self.stock = json.loads(self.listed), Counter(), Counter()
        self.at, self.number, self.counts, self.gone, self.sealed = 0, 0, Counter(), set(), {}

    def check_files(self):
        """Each file is as the list says, and the list stands in an entry of the chain."""
        named = self.manifest["files"]
        for name in sorted({*self.names} - BESIDE | {*named}):
            demand(name in named and name in self.names, f"{name} is missing, or not named in the list of its files.")
            file, digest = self.open(name), hashlib.sha256()
            while part := file.read(1 << 20):
                digest.update(part)
            same = named[name] == {"sha256": digest.hexdigest(), "size": file.tell()} and self.names.count(name) == 1
            demand(same, f"{name} is not as it was written.")
        entry, told = json.loads(self.receipt["text"]), {}
        for kind, key, salt, body in self.receipt["records"]:
            demand([kind, key, sha(f"{salt}\n{body}")] in entry[12], "receipt.json holds what its entry does not name.")
            told[kind] = [key, json.loads(body)]
        key, about = told["handout"][0], {name: self.manifest[name] for name in ("ledger", "from", "to", "head")}
        same = told == {"handout": [key, about], "words": [f"handout:{key}", {"manifest": sha(self.listed)}]}
        demand(same and entry[3] == "handout", f"manifest.json is not the list that entry {entry[1]} names.")

    def check_entries(self, wanted):
        """The chain leads from the ledger's id to the entry that names the list, and holds these texts and records."""
        groups = groupby(map(json.loads, self.open("records.jsonl")), lambda one: one["voucher"])
        texts, links, end = map(json.loads, self.open("vouchers.jsonl")), self.open("links.bin"), self.receipt["text"]
        (first, last), head, digest = self.manifest["entries"], self.manifest["head"], self.manifest["ledger"]
        text, (of, records), digest = next(texts, None), next(groups, (0, ())), sha(f"shopledger {digest}")
        for link in chain(iter(lambda: links.read(32).hex(), ""), self.receipt["links"], [sha(end)]):
            demand(self.number != head["number"] or digest == head["digest"], "links.bin does not lead to the head.")
            previous, digest, self.number = digest, sha(f"{digest}\n{link}"), self.number + 1
            number, self.at = self.number, self.number if digest == wanted else self.at
            if text is None or text["number"] != number:
                demand(not first <= number <= last, f"vouchers.jsonl: entry {number} is missing.")
                continue
            said, its = json.loads(text["text"]), list(records) if of == number else []
            holds = [sha(text["text"]), *text.values()] == [link, *said[1:3], previous, digest, text["text"]]
            demand(holds, f"vouchers.jsonl: entry {number} is not what the chain holds.")
            lines = [one["line"] for one in its]
            holds = lines == (sorted({*lines}) if not first <= number <= last else [*range(len(said[12]))])
            demand(holds, f"records.jsonl: the records of entry {number} are not those that it names.")
            self.count(number, said[2], said[11], said[12], its)
            text, (of, records) = next(texts, None), next(groups, (0, ())) if its else (of, records)
        self.digest, odd = digest, text["number"] if text else of or min(self.gone, default=[0])[0]
        demand(not odd, f"Entry {odd} is not where the chain has it, or did not erase what is gone.")
        demand(
            json.loads(end)[1] == number == head["number"] + 1 + len(self.receipt["links"]),
            "receipt.json leads astray.",
        )

    def count(self, number, day, movements, named, records):
        self.counts.update(texts=1, whole=number <= self.manifest["entries"][1])
        figures = self.stock if day < self.manifest["from"] else self.moved if day <= self.manifest["to"] else Counter()
        for (substance, source, *_), (_, target, *_), quantity, back in movements:
            into, sign = (target == "container") - (source == "container"), -1 if back else 1
            outside = source if target == "container" else target
            name = (CAME if into == sign else WENT).get(outside, outside.replace(" ", "_"))
            figures[substance, "closing"] += into * quantity
            figures[substance, name] += quantity * abs(into) * (into if name == "weighing_difference" else sign)
        for one in records:
            erased, body = one.get("erased"), json.loads(one.get("body", "0"))
            holds = erased or sha(f"{one['salt']}\n{one['body']}") == one["digest"]
            same = named[one["line"]] == [one["kind"], one["key"], one["digest"]]
            demand(holds and same, f"records.jsonl: a record of entry {number} is not what its digest was made from.")
            self.gone |= {(erased, one["digest"])} if erased else set()
            self.gone -= {(number, digest) for digest in body["digests"]} if one["kind"] == "erased" else set()
            self.sealed.update({one["key"]: body["balances_sha256"]} if one["kind"] == "seal" else {})

    def prove(self, wanted=""):
        """Raises Wrong; returns what is proved, and whose it is as far as a digest that was kept elsewhere says."""
        self.check_files()
        self.check_entries(wanted)
        eve, named = str(date.fromisoformat(self.manifest["from"]) - timedelta(1)), self.manifest["files"]
        known = "the first entry" * (self.counts["whole"] == self.manifest["entries"][1])
        if "opening.jsonl" in named:
            known, self.stock, same = f"a seal of {eve}", Counter(), named["opening.jsonl"]["sha256"]
            demand(same == self.sealed.get(eve), f"opening.jsonl is not what a seal of {eve} keeps.")
            for key, balance in map(json.loads, self.open("opening.jsonl")):
                self.stock[json.loads(key)[0], "closing"] += balance * (json.loads(key)[1] == "container")
        rows = [*csv.DictReader(map(bytes.decode, self.open("reports/usage.csv")))]
        said = {row["substance"]: row for row in rows}
        stocked = {of for (of, name), held in self.stock.items() if known and name == "closing" and held}
        whole = {of for of, _ in self.moved} | stocked <= {*said} and len(said) == len(rows)
        demand(whole, "reports/usage.csv lacks a substance that has moved or was there, or has one twice.")
        for substance, row in said.items():
            due = Counter({name: moved for (of, name), moved in self.moved.items() if of == substance})
            eve = self.stock[substance, "closing"] if known else int(row["opening"].replace(".", "")) - due["opening"]
            due.update(opening=eve, closing=eve)
            odd = [of for of in {*row, *due} - {"substance", "unit"} if row.get(of, "0.000") != f"{due[of] / 1000:.3f}"]
            demand(not odd, f"usage.csv: {', '.join(sorted(odd))} of {substance} is not what the entries come to.")
        entry, texts = f"entry {self.number} of ledger {self.manifest['ledger']}", self.counts["texts"]
        said = f"""All files are as manifest.json lists them, and {entry} names that list.
The digest of that entry is {self.digest}.
The chain leads to it from the ledger's id, and holds the {texts} entries and all records that are in here.
reports/usage.csv is what these come to, its opening worked out from {known or "nothing in here"}."""
        whose = f"Attested: the digest given is that of entry {self.at}. What came after it rests on the bundle alone."
        lacks = " Its chain does not hold the digest given: it is of another ledger, or parts from it." * bool(wanted)
        return said, whose if self.at else f"It is consistent in itself; nothing here says whose it is.{lacks}"


if __name__ == "__main__":
    words = sys.argv[1:]
    head = words.pop(words.index("--head") + 1).strip().lower() if "--head" in words[:-1] else ""
    try:
        bundle = Bundle([*(word for word in words if word != "--head"), "."][0])
        print(*bundle.prove(head), sep="\n\n")
    except Exception as error:
        sys.exit(f"The bundle does not hold. {error if isinstance(error, Wrong) else repr(error)}")
    sys.exit(not bundle.at)
