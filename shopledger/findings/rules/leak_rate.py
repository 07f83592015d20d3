"""Equipment whose leak rate was over its limit when refrigerant was added; what was to be done then and was not; what
cannot be judged before something is said."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace

from django.urls import reverse

from inventory.measures.quantity import show
from inventory.reference.rule import Rule
from inventory.reference.rulebook import Rulebook
from inventory.verdicts.verdict import Verdict
from jobs.leaks.case import NO_METHOD, Case
from jobs.leaks.case_queries import Leaks, charged, leaks_of, limited
from jobs.leaks.case_steps import Step
from jobs.leaks.leak_verdicts import METHOD, chronic_verdict, limits_on, rate_verdict, step_verdict
from shopledger.findings.finding import Finding, cited
from shopledger.reporting.report import Period, called, joined, with_code


def find(period: Period, rules: Rulebook) -> Iterator[Finding]:
    for one in leaks_of(charged(limited(rules, period.last)), rules, period.last):
        told = Told(one, period)
        yield from told.rates(rules)
        yield from told.unknown_charge(rules)
        yield from told.no_method(rules)
        yield from told.changed_method(rules)
        yield from told.no_statement(rules)
        for case in one.cases:
            yield from told.late(case)
            yield from told.in_wrong_order(case)
        yield from told.chronic()


def mass(milligrams: int) -> str:
    return show(milligrams, "kg")


class Told:
    """The findings of one unit in a period."""

    def __init__(self, leaks: Leaks, period: Period):
        self.leaks, self.period = leaks, period

    def rates(self, rules: Rulebook) -> Iterator[Finding]:
        """The rate at each addition of the period that was over its limit, or cannot be judged: then once, the last."""
        asked = {}
        for one in self.leaks.judged:
            if not self._within(one.addition.day):
                continue
            verdict = rate_verdict(one, rules, self.leaks.appliance, mass, self.leaks.case_of(one), self.period.last)
            if verdict.is_open:
                asked[one.limit.rule.duties] = (verdict, one.addition.day)
            elif one.over:
                yield self._finding("high", "leak rate", verdict, one.addition.day)
        for verdict, day in asked.values():
            yield self._finding("low", "leak rate", verdict, day)

    def unknown_charge(self, rules: Rulebook) -> Iterator[Finding]:
        added = [one.day for one in self.leaks.appliance.history.additions if self._within(one.day)]
        if not added or self.leaks.appliance.charges.entries:
            return
        for verdict in limits_on(self.leaks.appliance, rules, self.period.last):
            if verdict.is_open:
                yield self._finding("low", "leak rate", verdict, added[-1])

    def no_method(self, rules: Rulebook) -> Iterator[Finding]:
        """Once: which method was used, because none is set."""
        for one in reversed(self.leaks.judged):
            if one.method_set or not self._within(one.addition.day):
                continue
            unit = self.leaks.appliance
            step = rules.leak_steps(one.limit.rule.duties, unit.on(one.addition.day), one.addition.day).get("rate")
            if step is not None:
                yield self._said("low", "leak rate method", step, f": {_lower(NO_METHOD)}", one.addition.day)
                return

    def changed_method(self, rules: Rulebook) -> Iterator[Finding]:
        """The method changed in the period while the rate of the unit was over its limit by either method."""
        unit = self.leaks.appliance
        for day, _ in unit.methods.entries[1:]:
            before = [one for one in self.leaks.judged if one.addition.day < day and one.over is not None]
            if not before or not self._within(day):
                continue
            last, limit = before[-1], before[-1].limit.rule
            over = [one for one in (last.rate, last.other) if one.over(limit.over_percent)]
            step = rules.leak_steps(limit.duties, unit.on(day), day).get("method-change")
            if over and step is not None:
                told = (
                    f": the method of its premises changed on {day}, while its rate was over {limit.over_percent} % by "
                    f"{METHOD[over[0].method]}."
                )
                yield self._said("medium", "leak rate method", step, told, day)

    def no_statement(self, rules: Rulebook) -> Iterator[Finding]:
        """Seasonal variances that want a statement, and both amounts, on record."""
        unit = self.leaks.appliance
        for one in unit.history.exempt:
            if not one.unstated or not self._within(one.day):
                continue
            for limit in rules.leak_limits(unit.on(one.day), one.day):
                step = rules.leak_steps(limit.rule.duties, unit.on(one.day), one.day).get("no-rate")
                if step is not None and not limit.asks:
                    told = f": no statement of the seasonal variance of {one.day} (job {one.job}) is on record."
                    yield self._said("medium", "seasonal variance", step, told, one.day)

    def late(self, case: Case) -> Iterator[Finding]:
        """What is late on the period's last day, and what was done in the period, but late."""
        last = self.period.last
        for step in case.steps:
            stands = step.stands(last)
            if stands == "late" and (case.is_open(last) or self._within(step.due)):
                yield self._step("high", case, step)
            elif stands == "kept late" and self._within(step.done):
                yield self._step("medium", case, step)

    def in_wrong_order(self, case: Case) -> Iterator[Finding]:
        for one in case.objections:
            if self._within(one.day):
                yield self._said("high", "leak repair", one.rule, f": {_lower(one.sentence)}", one.day)

    def chronic(self) -> Iterator[Finding]:
        """Very much lost in a calendar year: while its report is to be sent, and where it came late or not at all."""
        last = self.period.last
        for one in self.leaks.chronic:
            verdict = chronic_verdict(one, last, mass)
            if verdict.answer == "due" or (verdict.is_breach and (one.sent is None or self._within(one.sent.day))):
                yield self._finding("high", "chronic leak", verdict, one.reached_on)

    def _step(self, severity: str, case: Case, step: Step) -> Finding:
        verdict = step_verdict(step, self.period.last)
        told = f", leak rate over its limit on {case.day}: {_lower(verdict.said)}"
        return replace(self._said(severity, "leak repair", step.rule, told, case.day), verdict=verdict)

    def _finding(self, severity: str, rule: str, verdict: Verdict, day: dt.date) -> Finding:
        found = self._said(severity, rule, verdict.rules[0], f": {_lower(verdict.said)}", day)
        return replace(found, verdict=verdict)

    def _said(self, severity: str, rule: str, cites: Rule, told: str, day: dt.date) -> Finding:
        unit = self.leaks.unit
        what = joined(with_code(called(unit.code, unit.title)), told)
        return Finding(severity, rule, cited(cites), what, reverse("unit-leaks", args=[unit.pk]), day)

    def _within(self, day: dt.date | None) -> bool:
        return day is not None and self.period.first <= day <= self.period.last


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]
