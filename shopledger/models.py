"""The tables of this floor's rooms, where Django looks for them."""

from shopledger.keeping.models import Deed
from shopledger.logbook.models import LoadedLog, LogUpload

__all__ = ["Deed", "LoadedLog", "LogUpload"]
