"""The tables of this floor's rooms, where Django looks for them."""

from jobs.people.models import Certificate, Person
from jobs.units.models import Customer, Unit
from jobs.work.models import Job, JobLine, JobStep

__all__ = ["Certificate", "Customer", "Job", "JobLine", "JobStep", "Person", "Unit"]
