"""The tables of this floor's rooms, where Django looks for them."""

from jobs.drafts.models import Job, JobLine, JobStep
from jobs.people.models import Certificate, Person
from jobs.units.models import Customer, Unit

__all__ = ["Certificate", "Customer", "Job", "JobLine", "JobStep", "Person", "Unit"]
