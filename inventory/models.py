"""Gathers the rooms' tables, where Django looks for them."""

from inventory.attachments.models import Attachment
from inventory.containers.models import Container, Location, Scale, Weighing
from inventory.counting.models import Count, CountEntry, Explanation, TareChange
from inventory.leaving.models import TheirWeight
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
from inventory.machines.models import Machine, MachineCheck
from inventory.receiving.models import Party
from inventory.scales.models import ScaleCheck
from inventory.shop.models import ChosenColumns, Shop
from inventory.supply.models import ReorderPoint
from inventory.trail.models import Change

__all__ = [
    "Account",
    "Attachment",
    "Change",
    "ChainHead",
    "ChosenColumns",
    "Container",
    "Count",
    "CountEntry",
    "Explanation",
    "Location",
    "Machine",
    "MachineCheck",
    "Movement",
    "Party",
    "ReorderPoint",
    "Scale",
    "ScaleCheck",
    "Seal",
    "SealBalance",
    "SealTotal",
    "Shop",
    "Substance",
    "TareChange",
    "TheirWeight",
    "Voucher",
    "Weighing",
]
