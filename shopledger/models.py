"""The tables of this floor's rooms, where Django looks for them."""

from shopledger.inspection.models import BundleOrder
from shopledger.keeping.models import Deed
from shopledger.logbook.models import LoadedLog, LogUpload

__all__ = ["BundleOrder", "Deed", "LoadedLog", "LogUpload"]
