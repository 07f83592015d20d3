"""The reports of jobs, of units, and of the people who did them."""

import datetime as dt
import json
from collections import defaultdict
from fractions import Fraction

from django.db import connection
from django.db.models import Count, F, Sum
from django.urls import reverse

from inventory.ledger.accounts import HOLDING_SQL
from inventory.measures.quantity import show
from inventory.reference.rulebook import Rulebook
from inventory.shop.models import Shop
from inventory.verdicts.verdict import Verdict
from jobs.drafts.models import Job
from jobs.leaks.case import present_rate
from jobs.leaks.case_queries import Leaks, appliances, leaks_from, limited
from jobs.leaks.leak_verdicts import METHOD, limits_on, rate_verdict
from jobs.people.models import Person
from jobs.people.queries import certificates_by_person
from jobs.units.models import Customer, Unit
from shopledger.reporting.corrections import TAKEN_OFF, counted, sign_of
from shopledger.reporting.report import MEASURED, Column, Period, Report, ReportTable, Worded, called, worded
from shopledger.reports.links import job_links

# The oils and the grades of refrigerant that each job voucher put into its unit: those of the period, and those that
# were reversed in it.
PUT_IN = f"""
SELECT DISTINCT m.voucher_id, s.is_oil, CASE WHEN s.is_oil THEN s.code ELSE a.grade END
FROM inventory_movement m JOIN inventory_substance s ON s.id = m.substance_id
JOIN inventory_voucher v ON v.number = m.voucher_id JOIN inventory_account a ON a.id = m.source_id
LEFT JOIN inventory_voucher r ON r.reverses_id = v.number
WHERE v.kind = 'job' AND m.source_class IN ({HOLDING_SQL}) AND m.target_class = 4
  AND (m.day >= %s AND m.day <= %s OR m.day < %s AND r.day >= %s AND r.day <= %s)
"""


def _put_in(period: Period) -> dict[tuple[int, bool], str]:
    """By voucher, and whether it is the oils: the oils, or the grades, that went into the unit."""
    found: dict[tuple[int, bool], list[str]] = defaultdict(list)
    with connection.cursor() as cursor:
        first, last = period.first.isoformat(), period.last.isoformat()
        cursor.execute(PUT_IN, [first, last, first, first, last])
        for voucher, oil, name in cursor.fetchall():
            found[voucher, bool(oil)].append(name)
    return {key: " and ".join(sorted(names)) for key, names in found.items()}


def jobs(period: Period, _key: str | None) -> ReportTable:
    """One row a job whose voucher is dated in the period and stood at its end, then one below zero for each that an
    earlier period reported and was corrected in this one; so the sums are those of the usage report, and those of what
    is kept for customers."""
    put_in = _put_in(period)
    signs = dict(counted("job", period).values_list("number", "sign"))
    found = Job.objects.filter(voucher__in=counted("job", period).order_by().values("number"))
    people = certificates_by_person()
    customers = worded(Customer.objects.values_list("code", "name"))
    rows, links = [], []
    ordered = sorted(
        found.select_related("technician", "unit", "voucher"),
        key=lambda job: (-signs[job.voucher_id], job.day, job.voucher_id),
    )
    for job in ordered:
        sign = signs[job.voucher_id]
        owner = json.loads(job.voucher.detail).get("customer", "")
        held = next((str(one) for one in people[job.technician_id] if one.valid_on(job.day)), "")
        rows.append(
            (
                job.number,
                job.day,
                called(job.technician.username, job.technician.name),
                job.certificate or held,
                customers.get(owner, owner),
                called(job.unit.code, job.unit.title),
                job.substance,
                sign * job.recovered_mg,
                sign * job.charged_mg,
                sign * job.line_loss_mg,
                put_in.get((job.voucher_id, True), ""),
                sign * job.oil_added_ul,
                sign * job.oil_drained_ul,
                put_in.get((job.voucher_id, False), ""),
                job.voucher_id,
            )
        )
        links.append(job_links(job))
    columns = [
        Column("job", "Job"),
        Column("date", "Date", "day"),
        Column("technician", "Technician"),
        Column("certificate", "Certificate"),
        Column("customer", "Customer"),
        Column("unit", "Unit"),
        Column("substance", "Substance"),
        Column("recovered", "Recovered", "quantity"),
        Column("charged", "Charged", "quantity"),
        Column("line_loss", "Line loss", "quantity"),
        Column("oil", "Oil"),
        Column("oil_added", "Oil added", "volume"),
        Column("oil_drained", "Oil drained", "volume"),
        Column("grade", "Grade"),
        Column("voucher", "Voucher", "count"),
    ]
    return ReportTable(columns, rows, notes=(MEASURED, TAKEN_OFF) if -1 in signs.values() else (MEASURED,), links=links)


def people(period: Period, _key: str | None) -> ReportTable:
    """One row a certificate; a person who signed jobs and has none stands with blanks."""
    signed = dict(
        Job.objects.filter(state="signed", day__gte=period.first, day__lte=period.last)
        .order_by()
        .values_list("technician")
        .annotate(Count("id"))
    )
    held = certificates_by_person()
    rows, links = [], []
    for person in Person.objects.order_by("username"):  # a name may change, and files keep their order
        certificates = held.get(person.pk, [])
        if not certificates and not signed.get(person.pk):
            continue
        for one in sorted(certificates, key=lambda c: (c.scheme, c.number)) or [None]:
            valid = one is not None and one.valid_on(period.last)
            rows.append(
                (
                    called(person.username, person.name),
                    one.scheme if one else "",
                    one.number if one else "",
                    one.issuer if one else "",
                    one.issued if one else None,
                    one.expires if one else None,
                    "yes" if valid else "no",
                    signed.get(person.pk, 0),
                )
            )
            links.append({"person": reverse("person", args=[person.pk])})
    columns = [
        Column("person", "Person"),
        Column("scheme", "Scheme"),
        Column("number", "Number"),
        Column("issuer", "Issuer"),
        Column("issued", "Issued", "day"),
        Column("expires", "Expires", "day"),
        Column("valid_on_last_day", "Valid on the last day"),
        Column("jobs_signed", "Jobs signed", "count"),
    ]
    return ReportTable(columns, rows, links=links)


def units(period: Period, _key: str | None) -> ReportTable:
    """One row a unit that was served, with its leak rate on the period's last day (see jobs.leaks.leak_rate)."""
    jobs = Job.objects.filter(voucher__in=counted("job", period).order_by().values("number")).order_by()
    sign = sign_of(period, "voucher__")
    sums = jobs.values("unit").annotate(
        visits=Sum(sign), charged=Sum(sign * F("charged_mg")), recovered=Sum(sign * F("recovered_mg"))
    )
    sums_of = {row["unit"]: row for row in sums}
    found = Unit.objects.filter(pk__in=jobs.values("unit")).order_by("code")
    rules, appliances_of = Shop.current().rules, appliances(found, period.last)
    ruled = set(limited(rules, period.last).filter(pk__in=jobs.values("unit")).values_list("pk", flat=True))
    rows, links, why = [], [], []
    for unit in found:
        sums, its = sums_of[unit.pk], appliances_of[unit.pk]
        full, rate = its.charges.on(period.last), present_rate(its, period.last)
        rows.append(
            (
                called(unit.code, unit.code),
                Worded(unit.title, ""),
                sums["visits"],
                int(sums["charged"]),
                int(sums["recovered"]),
                full,
                None if rate is None else METHOD[rate.method],
                _percent(rate and rate.percent),
            )
        )
        links.append({"unit": reverse("unit", args=[unit.pk])})
        of_it = unit.pk in ruled
        why.append(_leak_verdicts(leaks_from(unit, its, rules, period.last), rules, period.last) if of_it else ())
    columns = [
        Column("unit", "Unit"),
        Column("description", "Description"),
        Column("visits", "Visits", "count"),
        Column("charged", "Charged", "quantity"),
        Column("recovered", "Recovered", "quantity"),
        Column("full_charge", "Full charge", "quantity"),
        Column("method", "Method"),
        Column("leak_rate", "Leak rate, % a year", "decimal"),
    ]
    return ReportTable(columns, rows, notes=(MEASURED, LEAK_RATE), links=links, why=why)


def _leak_verdicts(leaks: Leaks, rules: Rulebook, day: dt.date) -> tuple[Verdict, ...]:
    """What the last rate of a unit up to a day comes to, else what is open about it; none where no limit applies."""
    unit = leaks.appliance
    rates = [rate_verdict(one, rules, unit, _in_kg, leaks.case_of(one), day) for one in leaks.latest]
    return tuple(rates or (one for one in limits_on(unit, rules, day) if one.is_open))


def _in_kg(milligrams: int) -> str:
    return show(milligrams, "kg")


LEAK_RATE = (
    "Leak rate, 40 CFR 82.152, by the method of the unit's premises, rolling average where none is set: on the last "
    "day, what was added in 365 days or since the last good follow-up test that shows all identified leaks repaired. "
    "Annualizing: at the last addition. What a job marks as installation, retrofit or seasonal variance is no addition "
    "(82.157(b)). Limits, and since when they count, stand on the unit's page. Blank where the full charge is not "
    "known, or nothing was added to annualize."
)


def _percent(rate: Fraction | None) -> str | None:
    return None if rate is None else f"{float(round(rate, 1)):.1f}"


JOBS = Report(
    "jobs", "Jobs", jobs, (), "One row a job: who did it, under which certificate, what went in and came out."
)
PEOPLE = Report(
    "people", "People", people, (), "Certificates, whether they are valid, and who signed jobs.", of_ledger=False
)
UNITS = Report("units", "Units", units, (), "What each unit got and gave back, and how fast it loses.")
