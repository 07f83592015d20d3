"""Gathers the rooms' tables, where Django looks for them."""

from inventory.attachments.models import Attachment
from inventory.containers.models import Container, Location, Scale, Weighing
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
from inventory.shop.models import Shop

__all__ = [
    "Account",
    "Attachment",
    "ChainHead",
    "Container",
    "Location",
    "Movement",
    "Party",
    "Scale",
    "Seal",
    "SealBalance",
    "SealTotal",
    "Shop",
    "Substance",
    "Voucher",
    "Weighing",
]
