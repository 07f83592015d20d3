"""Who may buy what. Pure: no Django here."""

import datetime as dt
from collections.abc import Sequence

from inventory.reference.container_rules import SmallCan
from inventory.reference.rule import System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Verdict, cannot_be_judged
from inventory.verdicts.work import Asked, best, exempted, facts


def buying(
    rules: Rulebook,
    system: System,
    papers: Sequence[str],
    day: dt.date,
    container_mg: int | None = None,
    buyer: str = "undertaking",
) -> Verdict:
    """Whether refrigerant may be bought. system: what it is bought for, as far as that is said. papers: the schemes of
    the buyer's, or of its people's, certificates that are valid on the day. container_mg: what the container is made to
    hold. buyer: of BUYERS."""
    demands = rules.demands("purchase", system, day, container_mg)
    can = None if container_mg is None else rules.small_can(system.substance, container_mg, day)
    if demands and can is not None:
        return _small(can, system)
    if not demands:
        exemption = exempted(rules, "certificate_demand", system, day)
        said = f"No certificate is asked for to buy {system.substance}."
        return Verdict(answer="free", said=said, rules=(exemption,) if exemption else (), figures=facts(system))
    asked = Asked(rules, "purchase", system, day, demands, buyer)
    return best(asked.answers(papers)) or _without(asked)


def _small(can: SmallCan, system: System) -> Verdict:
    readings = ()
    if can.self_sealing_from is not None:
        readings = (
            f"A can made or imported on {can.self_sealing_from} or later closes by itself and leaks at most "
            f"{can.leak_most_g_year:f} g a year.",
        )
    said = f"A can made to hold so little {system.substance} asks for no certificate."
    return Verdict(answer="free", said=said, rules=(can,), figures=facts(system), readings=readings)


def _without(asked: Asked) -> Verdict:
    substance, found = asked.system.substance, asked.without()
    if found.is_open:
        what = f"Whether {substance} may be bought without a certificate"
        return cannot_be_judged(what, found.ask, found.rules, figures=found.figures, changes=found.changes)
    said = f"No certificate on file that is valid on {asked.day} allows to buy {substance}."
    return Verdict(answer=found.answer, said=said, rules=found.rules, figures=found.figures, changes=found.changes)
