"""The tables of this floor's rooms, where Django looks for them."""

from shopledger.backup.models import Upkeep
from shopledger.health.models import SlowPage
from shopledger.inspection.models import BundleOrder
from shopledger.inspectors.models import InspectorAccess, Look
from shopledger.logbook.models import LoadedLog, LogUpload
from shopledger.monthend.models import LeftOpen
from shopledger.sealing.models import IssuedReport
from shopledger.sheet_pages.models import LoadedSheet, SheetMapping, SheetUpload
from shopledger.signin.models import Notice, PaperCode, Passkey, Phone, Pin, SignIn, Standing, WrongGuess

__all__ = [
    "BundleOrder",
    "Upkeep",
    "InspectorAccess",
    "IssuedReport",
    "LeftOpen",
    "LoadedLog",
    "LoadedSheet",
    "LogUpload",
    "Look",
    "Notice",
    "PaperCode",
    "Passkey",
    "Phone",
    "Pin",
    "SheetMapping",
    "SheetUpload",
    "SignIn",
    "SlowPage",
    "Standing",
    "WrongGuess",
]
