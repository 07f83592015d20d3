"""Several people on one job: a colleague is added, ends, or takes it over. Each is one transaction.

Its technician answers for it and signs it; a hand enters everything. Who wrote what stays with each step and line."""

from django.db import transaction
from django.utils import timezone

from inventory.shop.once import keep, recorded
from inventory.text.clean import clean
from inventory.text.refusal import Refused
from jobs.drafts.actions import check_answers_for, draft_for
from jobs.drafts.models import Job, JobHand
from jobs.people.models import Person

NOTE = 500  # characters


def add_hand(job_id: int, *, person: Person, by: Person) -> JobHand:
    """Let a colleague work on a draft; one who does already stays as they are. Raises Refused for its technician, and
    for who does no jobs."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        if recorded() is not None:
            return JobHand.objects.filter(job=job, person=person).last()
        check_answers_for(job, by)
        if person.pk == job.technician_id:
            raise Refused(f"{person} is its technician already; name a colleague.", "person")
        _check_does_jobs(person, "person")
        hand = JobHand.objects.filter(job=job, person=person, ended=None).first()
        if hand is None:
            hand = JobHand.objects.create(job=job, person=person, since=timezone.now(), by=by)
            _changed(job)
        keep(called=f"{person} on job {job.title}", thing=f"job {job.pk}")
        return hand


def end_hand(job_id: int, *, hand: int, by: Person) -> None:
    """Say that a person no longer works on a draft; its technician, the office or they themselves say so. What they
    wrote stays. One that ended stays ended."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        found = JobHand.objects.filter(job=job, pk=hand).select_related("person").first()
        if found is None:
            raise Refused("That is no person of this job; open the page again.")
        if found.person_id != by.pk:
            check_answers_for(job, by)
        if found.ended is None:
            _end(found, by)
            _changed(job)


def hand_over(job_id: int, *, to: Person, by: Person, note: str = "") -> Job:
    """Give a draft to another technician, who signs it under their own certificates; who had it stays as a hand. The
    note is kept and shown to the one who takes over."""
    with transaction.atomic():
        job = draft_for(job_id, by)
        if recorded() is not None:
            return job
        check_answers_for(job, by)
        note = clean(note, "note", NOTE)
        if to.pk == job.technician_id:
            raise Refused(f"Job {job.title} is {to}'s already; name who takes it over.", "to")
        _check_does_jobs(to, "to")
        for one in JobHand.objects.filter(job=job, person=to, ended=None):
            _end(one, by)
        had = job.technician
        JobHand.objects.create(job=job, person=had, since=timezone.now(), by=by, handed_to=to, note=note)
        job.technician = to
        job.version += 1
        job.save(update_fields=["technician", "version"])
        keep(called=f"job {job.title}, handed over to {to}", thing=f"job {job.pk}")
        return job


def _check_does_jobs(person: Person, field: str) -> None:
    if not person.is_active:
        raise Refused(f"{person} no longer works here; name someone who does.", field)
    if person.role in {"office", "inspector"}:
        raise Refused(f"{person} does no jobs; name a technician or the owner.", field)


def _end(hand: JobHand, by: Person) -> None:
    hand.ended, hand.ended_by = timezone.now(), by
    hand.save(update_fields=["ended", "ended_by"])


def _changed(job: Job) -> None:
    job.version += 1
    job.save(update_fields=["version"])
