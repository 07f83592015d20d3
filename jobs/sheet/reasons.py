"""The reasons that were given on a job, in words: for its page and its sheet."""

from collections.abc import Iterable

from jobs.drafts.models import Job, JobStep
from jobs.drafts.steps import STEPS
from jobs.drafts.wording import Fact, Section
from jobs.signing.judged import judged

REASONS = {
    "empty": "Nothing entered",
    "evacuation": "No evacuation recorded",
    "hold": "No hold recorded",
    "hold-failed": "Hold not passed",
    "leak": "Charged with a leak that was not repaired",
    "no-range": "Label's charge not recorded",
    "over": "Charged over the label",
    "under": "Charged under the label",
    "designed-for": "Designed for another refrigerant",
    "untested": "Charged without a leak test",
}
REASONS_OF = {
    "not-weighed-": "Not weighed: ",
    "used-": "Used by others meanwhile: ",
    "grade-": "Grade of ",
    "certificate-": "No certificate on file to ",
    "oil-": "Another oil, from ",
    "banned-": "No longer to be charged, from ",
    "single-use-": "Single-use: ",
    "sure-": "Asked about, and right: ",
}
UNSAID = "unsaid-"  # before the key of what depends on something that nobody said; its note says what


def reason_title(key: str) -> str:
    """What a reason was given for, in words. key: of an objection in signing.py."""
    if key.startswith(UNSAID):
        return "Cannot be judged"
    for start, words in REASONS_OF.items():
        if key.startswith(start):
            return words + key.removeprefix(start)
    return REASONS.get(key, key)


def reasons_of(job: Job, steps: Iterable[JobStep]) -> Section:
    """Why steps were passed over, and what signing asked, each with what the rulebook said to it."""
    why = judged(job.verdicts).objections
    latest = {one.step: one for one in sorted(steps, key=lambda one: (one.at, one.pk))}.values()
    skipped = [
        (f"{STEPS[one.step].title}: skipped", one.skipped) for one in latest if one.skipped and one.step in STEPS
    ]
    given = [Fact(reason_title(key), why_so, True, why.get(key, ())) for key, why_so in sorted(job.reasons.items())]
    return Section("Reasons given", [*(Fact(title, words, free=True) for title, words in skipped), *given])
