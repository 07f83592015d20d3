"""The tables of this floor's rooms, where Django looks for them."""

from shopledger.logbook.models import LoadedLog

__all__ = ["LoadedLog"]
