"""Who may do what: whether the papers of a person, and of the company, allow work on a system. Pure: no Django here."""

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from inventory.measures.months import add_months
from inventory.measures.quantity import show
from inventory.reference.certificate_rules import CertificateDemand, Grant
from inventory.reference.rule import EQUIPMENT, WORK, Bearing, System
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Figure, Verdict, cannot_be_judged

SUPERVISOR_ASKED = "who supervised it"


@dataclass(frozen=True)
class Worker:
    """Who does the work. papers: the schemes, as they are written, of the certificates that are valid on its day.
    in_training_since: None where the person is not in training. supervised: whether it is said who supervised."""

    papers: Sequence[str] = ()
    in_training_since: dt.date | None = None
    supervised: bool = False


def working(rules: Rulebook, work: str, system: System, worker: Worker, day: dt.date) -> Verdict:
    """Whether a person may do this work (a key of WORK) on a system on a day.

    The answers: free (no certificate is asked for), met, confirm, open, breach (not within what the certificate is
    limited to, or where the rulebook does not refuse), refused.
    """
    demands = rules.demands(work, system, day)
    if not demands:
        return _free(rules, work, system, day)
    said = Asked(rules, work, system, day, demands)
    found = best(said.answers(worker.papers))
    if found is not None and not found.is_breach:
        return found
    return said.in_training(worker) or found or said.without()


def by_paper(verdict: Verdict) -> bool:
    """Whether it leans on what a certificate of the person allows, and not on what is asked of anybody."""
    return bool(verdict.rules) and isinstance(verdict.rules[0], Grant)


def in_training(since: dt.date | None, day: dt.date, demand: CertificateDemand) -> bool:
    """Whether a person in training since then may work under supervision on a day, as long as the rulebook lets."""
    if since is None or demand.trainee_months is None:
        return False
    return since <= day < add_months(since, demand.trainee_months)


def company(rules: Rulebook, works: Iterable[str], system: System, certified: bool, day: dt.date) -> Verdict:
    """Whether the company may do such work for others. certified: whether its own certificate is valid on the day."""
    works = set(works)
    found = [(rule, one) for rule, one in rules.about("company_demand", system, day) if works & set(rule.work)]
    if not found:
        return Verdict(answer="free", said="No certificate of the company is asked for.", figures=facts(system))
    rule, bearing = found[0]
    more = {"rules": (rule,), "figures": facts(system)}
    if certified:
        return Verdict(answer="met", said="The company holds a certificate that is valid on that day.", **more)
    if bearing.holds is None:
        return cannot_be_judged("Whether the company needs a certificate", bearing.asks, **more)
    return Verdict(
        answer="refused" if rule.enforcement == "refuse" else "breach",
        said="The company has no certificate on file that is valid on that day.",
        changes=("Entered among the shop's settings, it would be as the rule asks.",),
        **more,
    )


@dataclass(frozen=True)
class Asked:
    """Work for which a certificate is, or may be, asked. demands: never none. buyer: of a purchase, who buys."""

    rules: Rulebook
    work: str
    system: System
    day: dt.date
    demands: list[tuple[CertificateDemand, Bearing]]
    buyer: str = ""

    @property
    def demand(self) -> CertificateDemand:
        """The first that holds for certain, else the first that may."""
        return next((rule for rule, one in self.demands if one.holds), self.demands[0][0])

    @property
    def asks(self) -> tuple[str, ...]:
        """What must be said before it is known whether any certificate is asked for; none where one is."""
        if any(one.holds for _, one in self.demands):
            return ()
        return tuple(ask for _, one in self.demands for ask in one.asks)

    def answers(self, papers: Sequence[str]) -> Iterator[Verdict]:
        """What each certificate comes to, for each of the rules by which it allows, or may allow, this."""
        for paper in papers:
            scheme = self.rules.scheme(paper, self.day)
            for grant, bearing in self.rules.grants(paper, self.work, self.system, self.day):
                if self._counts(scheme.code, grant):
                    yield self._by(grant, bearing, scheme.title)

    def _counts(self, scheme: str, grant: Grant) -> bool:
        named = {"*", scheme} & set(self.demand.schemes)
        return bool(named) and (not self.buyer or self.buyer in grant.buyers)

    def _by(self, grant: Grant, bearing: Bearing, title: str) -> Verdict:
        more = {"rules": (grant, self.demand), "figures": (*facts(self.system), Figure("certificate", title))}
        limits = grant.limits_kept(self.system)
        asks = (*bearing.asks, *limits.asks)
        if limits.holds is False:
            return Verdict(
                answer="breach",
                said=f"{title} allows to {WORK[self.work]} only as it is limited to, and this was not done so.",
                **more,
            )
        if asks:
            return cannot_be_judged(f"Whether {title} allows to {WORK[self.work]}", asks, **more)
        doubt = grant.doubt
        if grant.pressure_doubtful(self.system):
            doubt = f"{self.system.substance} lies near the limit of a pressure class, or its pressure is an estimate"
        if doubt:
            return Verdict(
                answer="confirm",
                said=f"{title} may allow to {WORK[self.work]}; confirm it with the authority: {doubt}.",
                readings=(f"Counted as allowed here; {doubt}.",),
                **more,
            )
        return Verdict(answer="met", said=f"{title} allows to {WORK[self.work]}.", **more)

    def in_training(self, worker: Worker) -> Verdict | None:
        """What being in training comes to; None where it does not help."""
        demand = self.demand
        if self.asks or not in_training(worker.in_training_since, self.day, demand):
            return None
        ends = add_months(worker.in_training_since, demand.trainee_months)
        figures = (*facts(self.system), Figure("in training since", str(worker.in_training_since)))
        readings = (f"Training counts {demand.trainee_months} months in all, up to and not including {ends}.",)
        if worker.supervised:
            said = f"Somebody in training may {WORK[self.work]} under supervision, which is said."
            return Verdict(answer="met", said=said, rules=(demand,), figures=figures, readings=readings)
        what = f"Whether somebody in training may {WORK[self.work]}"
        return cannot_be_judged(what, (SUPERVISOR_ASKED,), (demand,), figures=figures, readings=readings)

    def without(self) -> Verdict:
        """What no certificate comes to."""
        rules, figures, changes = (self.demand,), facts(self.system), self._would_do()
        if self.asks:
            what = f"Whether a certificate is asked for to {WORK[self.work]}"
            return cannot_be_judged(what, self.asks, rules, figures=figures, changes=changes)
        return Verdict(
            answer="refused" if self.demand.enforcement == "refuse" else "breach",
            said=f"No certificate on file that is valid on {self.day} allows to {WORK[self.work]}.",
            rules=rules,
            figures=figures,
            changes=changes,
        )

    def _would_do(self) -> tuple[str, ...]:
        titles = []
        for scheme in self.rules.schemes(self.day):
            found = best(self.answers([scheme.code]))
            if found is not None and found.answer in {"met", "confirm"}:
                titles.append(scheme.title)
        return (f"With one of these certificates it would be allowed: {', '.join(titles)}.",) if titles else ()


def best(found: Iterable[Verdict]) -> Verdict | None:
    """The verdict that allows most; None where there is none."""
    order = ("met", "confirm", "open", "breach")
    return min(found, key=lambda one: order.index(one.answer), default=None)


def _free(rules: Rulebook, work: str, system: System, day: dt.date) -> Verdict:
    said = f"No certificate is asked for to {WORK[work]}."
    exemption = exempted(rules, "certificate_demand", system, day)
    return Verdict(answer="free", said=said, rules=(exemption,) if exemption else (), figures=facts(system))


def exempted(rules: Rulebook, section: str, system: System, day: dt.date):
    """The exemption without which a rule of a section would be about a system; None where no rule would."""
    regimes = {
        one.regime for one in rules.section(section, day) if one.regime and one.bears_on(system).holds is not False
    }
    return next(filter(None, (rules.exempting(regime, system, day) for regime in sorted(regimes))), None)


def facts(system: System) -> tuple[Figure, ...]:
    """What of a system such verdicts are worked out from."""
    found = [("equipment", EQUIPMENT.get(system.equipment or "", "")), ("refrigerant", system.substance)]
    if system.charge_mg is not None:
        found.append(("full charge", show(system.charge_mg, "kg")))
    return tuple(Figure(label, value) for label, value in found if value)
