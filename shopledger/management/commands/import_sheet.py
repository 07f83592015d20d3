"""manage.py import_sheet FILE --as KIND [--mapping NAME] [--answers FILE.json] [--sheet NAME] [--check]"""

import json
from pathlib import Path

from inventory.shop.models import Shop
from inventory.text.refusal import Refused
from shopledger.management.plain import Fault, PlainCommand, Wrong, make_tables
from shopledger.sheet_meaning.kinds_of_sheet import SHEET_KINDS
from shopledger.sheet_meaning.plan import Pointed
from shopledger.sheet_meaning.summing import comes_to
from shopledger.sheet_pages.actions import SheetRefused, load_plan, understood
from shopledger.sheet_pages.models import SheetMapping
from shopledger.sheets.book import open_book

SHOWN = 20  # answers that a question lists


class Command(PlainCommand):
    help = "Loads a workbook or CSV as a shop keeps it; all rows or none, and asks what it cannot know."

    def add_arguments(self, parser) -> None:
        parser.add_argument("file", metavar="FILE")
        parser.add_argument("--as", dest="kind", required=True, choices=list(SHEET_KINDS))
        parser.add_argument("--mapping", default="", metavar="NAME", help="how such a sheet was understood before")
        parser.add_argument("--answers", default="", metavar="FILE.json", help="answers, by the names of the questions")
        parser.add_argument("--sheet", default="", metavar="NAME", help="the sheet of a workbook")
        parser.add_argument("--check", action="store_true", help="only say what is asked and wrong; load nothing")

    def act(self, *, file: str, kind: str, check: bool, **options) -> None:
        try:
            body = Path(file).read_bytes()
        except OSError as error:
            raise Wrong(f"{file} cannot be read: {error.strerror}.") from None
        answers = self._answers(options["answers"])
        make_tables()
        mapping = self._mapping(options["mapping"], kind)
        try:
            book = open_book(body, Path(file).name)
        except Refused as refused:
            raise Fault(refused.message) from None
        if options["sheet"] and book.called(options["sheet"]) is None:
            raise Wrong(f"It has no sheet {options['sheet']}; it has {', '.join(sheet.name for sheet in book.sheets)}.")
        if not Shop.objects.exists():
            raise Fault("There is no shop in this ledger yet; set it up first, or load its log.")
        plan, used = understood(book, kind, answers, Pointed(sheet=options["sheet"]), mapping)
        for note in plan.notes:
            self.stderr.write(note, style_func=str)
        if used is not None:
            self.stderr.write(f"Understood by the mapping {used.name}.", style_func=str)
        try:
            loaded = load_plan(plan, check_only=check)
        except SheetRefused as refused:
            self._say(refused)
            raise Fault(str(refused)) from None
        for sentence in comes_to(plan):
            self.stdout.write(sentence)
        if check:
            self.stdout.write(f"{plan.table.said} has no fault. Nothing was loaded.")
            return
        self.stdout.write(
            f"Loaded {plan.table.said}. The last voucher is {loaded.number}; its digest is {loaded.digest}."
        )

    def _say(self, refused: SheetRefused) -> None:
        for question in refused.questions:
            where = f" ({question.where})" if question.where else ""
            self.stderr.write(f"{question.id}: {question.called}{where}", style_func=str)
            if question.is_day:
                self.stderr.write("    a day, as 2026-03-02", style_func=str)
            for answer, words in question.choices[:SHOWN]:
                self.stderr.write(f"    {answer}: {words}" if answer != words else f"    {answer}", style_func=str)
            if len(question.choices) > SHOWN:
                self.stderr.write(f"    and {len(question.choices) - SHOWN} more", style_func=str)
        for fault in refused.faults:
            self.stderr.write(str(fault), style_func=str)

    def _answers(self, name: str) -> dict[str, str]:
        if not name:
            return {}
        try:
            said = json.loads(Path(name).read_text(encoding="utf-8-sig"))
        except OSError as error:
            raise Wrong(f"{name} cannot be read: {error.strerror}.") from None
        except ValueError as error:
            raise Wrong(f"{name} is no JSON: {error}.") from None
        if not isinstance(said, dict) or not all(isinstance(value, str) for value in said.values()):
            raise Wrong(f'{name} holds the answers by the names of the questions, e.g. {{"unit:net": "kg"}}.')
        return said

    def _mapping(self, name: str, kind: str) -> SheetMapping | None:
        if not name:
            return None
        found = SheetMapping.objects.filter(name=name).first()
        if found is None:
            known = ", ".join(SheetMapping.objects.values_list("name", flat=True)) or "none"
            raise Wrong(f"There is no mapping {name}; there are: {known}.")
        if found.kind != kind:
            raise Wrong(f"{name} is a mapping of {found.kind}, not of {kind}.")
        return found
