"""Whether a certificate itself is in order: its refresher, and the day on which it ends. Pure: no Django here."""

import datetime as dt

from inventory.measures.months import add_months
from inventory.reference.certificate_rules import CertificateScheme
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict


def refresher(rules: Rulebook, written_scheme: str, issued: dt.date, day: dt.date) -> Verdict:
    """By when a certificate of that scheme, issued on that day, is refreshed; free where no rule asks for it."""
    scheme = rules.scheme(written_scheme, day)
    figures = (Figure("issued on", str(issued)),)
    if scheme is None or scheme.refresh_years is None and scheme.refresh_first_due is None:
        return Verdict(answer="free", said="No refresher is asked for.", figures=figures)
    due, older = _due(scheme, issued), scheme.older_before is not None and issued < scheme.older_before
    if due is None:
        return Verdict(answer="free", said="No refresher is asked for.", rules=(scheme,), figures=figures)
    readings = ()
    if older:
        readings = (f"Issued before {scheme.older_before}, it counts as one of the older papers.",)
    said = f"{scheme.title}, issued on {issued}, is refreshed by {due}."
    return Verdict(answer="due", said=said, rules=(scheme,), figures=figures, readings=readings, by=due)


def _due(scheme: CertificateScheme, issued: dt.date) -> dt.date | None:
    if scheme.older_before is not None and issued < scheme.older_before:
        return scheme.refresh_first_due
    return None if scheme.refresh_years is None else add_months(issued, 12 * scheme.refresh_years)


def ending(rules: Rulebook, written_scheme: str, expires: dt.date | None, day: dt.date) -> Verdict:
    """Whether the day on which a certificate ends is as its scheme has it. expires: its last valid day, None where it
    names none."""
    scheme = rules.scheme(written_scheme, day)
    figures = (Figure("valid through", str(expires or "no day")),)
    if scheme is None:
        said = "The rulebook does not know this scheme, so nothing is allowed by it."
        return Verdict(answer="breach", said=said, figures=figures)
    more = {"rules": (scheme,), "figures": figures}
    if scheme.expiry == "must" and expires is None:
        return Verdict(answer="breach", said=f"{scheme.title} ends on a day: enter its last valid day.", **more)
    if scheme.expiry == "never" and expires is not None:
        said = f"{scheme.title} carries no last day; here one is entered, and it counts."
        return Verdict(answer="confirm", said=said, **more)
    return Verdict(answer="met", said="Its last day is as the scheme has it.", **more)
