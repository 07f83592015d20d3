"""What the rulebook says of a charge itself: into what it went, and whether it was tested for leaks before. Pure: no
Django here."""

import datetime as dt

from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.charging import designed_for_another, leak_tested
from inventory.verdicts.verdict import Verdict

NOT_CHECKED = "not checked"
STEPS = {"designed-for": "charge", "untested": "repair"}  # where on the job page each is mended
MENDS = {
    "designed-for": "Recover it, and charge what the unit was designed for; or correct that on the unit's page.",
    "untested": "Test it for leaks, and say what was found.",
}


def charge_verdicts(
    rules: Rulebook, system: System, designed_for: str, leak_result: str, day: dt.date
) -> dict[str, Verdict]:
    """Of a charge, by the key of its objection. system: with what was charged; designed_for: blank where it is not
    known; leak_result: as a job says it."""
    tested = "" if leak_result == NOT_CHECKED else leak_result
    return {
        "designed-for": designed_for_another(rules, system, designed_for, day),
        "untested": leak_tested(rules, system, tested, day),
    }
