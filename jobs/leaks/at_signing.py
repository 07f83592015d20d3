"""What a job's charge does to the leak rate of its unit, said when the job is signed and kept with it."""

from inventory.measures.quantity import show
from inventory.reference.rulebook import Rulebook
from inventory.shop.clock import today
from inventory.verdicts.verdict import Verdict
from jobs.drafts.models import Job
from jobs.leaks.case_queries import appliances, leaks_from, limited
from jobs.leaks.leak_verdicts import limits_on, rate_verdict


def leak_verdicts(job: Job, rules: Rulebook) -> list[Verdict]:
    """The leak rate at the addition that a job is, against each limit; what must be said before it can be judged; none
    where no limit applies, or what went in counts as no addition. job: with its totals, and not saved as signed yet."""
    if not job.charged_mg or not limited(rules, job.day).filter(pk=job.unit_id).exists():
        return []
    day = max(today(), job.day)  # as all stands now
    unit = appliances([job.unit], day, job)[job.unit_id]
    leaks = leaks_from(job.unit, unit, rules, day)
    same_day = [one for one in leaks.judged if one.addition.day == job.day]
    rates = [one for one in same_day if one.addition == same_day[-1].addition]
    if not rates:
        return [one for one in limits_on(unit, rules, job.day) if one.is_open]

    def mass(milligrams: int) -> str:
        return show(milligrams, job.technician.mass_unit)

    return [rate_verdict(one, rules, unit, mass, leaks.case_of(one), day) for one in rates]
