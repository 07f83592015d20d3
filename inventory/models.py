"""Gathers the rooms' tables, where Django looks for them."""

from inventory.attachments.models import Attachment
from inventory.containers.models import Container, Location, Scale, Weighing
from inventory.counting.models import Count, CountEntry, Explanation, TareChange
from inventory.ledger.models import (
    Account,
    ChainHead,
    Movement,
    Seal,
    SealBalance,
    SealTotal,
    Substance,
    Voucher,
)
from inventory.receiving.models import Party
from inventory.scales.models import ScaleCheck
from inventory.shop.models import Shop

__all__ = [
    "Account",
    "Attachment",
    "ChainHead",
    "Container",
    "Count",
    "CountEntry",
    "Explanation",
    "Location",
    "Movement",
    "Party",
    "Scale",
    "ScaleCheck",
    "Seal",
    "SealBalance",
    "SealTotal",
    "Shop",
    "Substance",
    "TareChange",
    "Voucher",
    "Weighing",
]
