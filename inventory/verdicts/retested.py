"""Whether a container may be filled, or emptied, by the day of its retest. Pure: no Django here."""

import datetime as dt

from inventory.measures.months import last_of_month
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict

DONE = {"fill": "filled", "use": "emptied"}


def retested(rules: Rulebook, kind: str, retest_due: dt.date | None, day: dt.date, act: str = "fill") -> Verdict:
    """Whether that may be done (a key of DONE) with a container of a kind whose retest is due on a day; None: no day is
    known, and it may. A stamp often names only month and year, so the end of the month may be the last day.

    The answers: free (no rule, or no day), due (it may, by the last day), met (overdue, and it may all the same),
    breach or refused.
    """
    rule = rules.retest(kind, day)
    if rule is None:
        return Verdict(answer="free", said="No test of such a container is asked for.")
    figures = (Figure("retest due", str(retest_due or "not known")),)
    every = f"Where its stamp names no day, it is tested every {rule.years} years."
    about = {"rules": (rule,), "figures": figures, "changes": (every,)}
    if retest_due is None:
        return Verdict(answer="free", said=f"The day of its retest is not known. {every}", **about)
    last = last_of_month(retest_due) if rule.through_month_end else retest_due
    if day <= last:
        return Verdict(
            answer="due", said=f"It is tested again by {last}; it may be {DONE[act]} until then.", by=last, **about
        )
    if rule.fill_when_overdue if act == "fill" else rule.use_when_overdue:
        said = f"Its retest was due on {retest_due}; it may be {DONE[act]} all the same."
        return Verdict(answer="met", said=said, **about)
    return Verdict(
        answer="refused" if rule.enforcement == "refuse" else "breach",
        said=f"Its retest was due on {retest_due}; it must not be {DONE[act]} before it is tested.",
        **about,
    )
