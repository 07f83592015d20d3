"""The tables of this floor's rooms, where Django looks for them."""

from jobs.drafts.models import Job, JobHand, JobLine, JobStep
from jobs.leaks.models import LeakEvent
from jobs.people.models import Certificate, Person
from jobs.units.models import Customer, FullCharge, LeakRateMethod, Premises, Unit

__all__ = [
    "Certificate",
    "Customer",
    "FullCharge",
    "Job",
    "JobHand",
    "JobLine",
    "JobStep",
    "LeakEvent",
    "LeakRateMethod",
    "Person",
    "Premises",
    "Unit",
]
