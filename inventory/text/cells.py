"""Text in the cells of a spreadsheet. Pure: no Django here."""

import re
import unicodedata

# A spreadsheet takes a cell that begins so for a formula (OWASP, CSV injection); full-width forms count too.
STARTS = frozenset("=+-@\t\r\n|")
QUANTITY = re.compile(r"-?\d[\d.,]*( (mg|g|kg|oz|lb|lb \d[\d.,]* oz|mL|L|fl oz|%|°C|t CO2e))?")


def harmless(value: object) -> object:
    """A cell that no spreadsheet takes for a formula: text that begins like one, blanks before it and full-width
    characters included, gets an apostrophe before it. Numbers and quantities such as -5 g stay as they are."""
    if not isinstance(value, str) or QUANTITY.fullmatch(value):
        return value
    seen = unicodedata.normalize("NFKC", value)
    if value[:1] in STARTS or seen.lstrip()[:1] in STARTS:
        return f"'{value}"
    return value
