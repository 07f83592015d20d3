"""The tables of this floor's rooms, where Django looks for them."""

from jobs.people.models import Certificate, Person

__all__ = ["Certificate", "Person"]
