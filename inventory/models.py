"""Gathers the rooms' tables, where Django looks for them."""

from inventory.attachments.models import Attachment
from inventory.buying.models import Invoice, InvoiceLine
from inventory.containers.models import Container, ContainerCheck, ContainerEntry, Location, Scale, Weighing
from inventory.counting.models import Count, CountEntry, Explanation, TareChange
from inventory.ledger.models import (
    Account,
    ChainHead,
    Movement,
    Record,
    Seal,
    SealBalance,
    SealTotal,
    Substance,
    Voucher,
)
from inventory.machines.models import Machine, MachineCheck
from inventory.orders.models import Order, OrderDelivery, OrderLine
from inventory.parties.models import Party, PartyPaper
from inventory.scales.models import ScaleCheck
from inventory.shipping.models import TheirWeight
from inventory.shop.models import ChosenColumns, FormSent, Shop
from inventory.supply.models import ReorderPoint
from inventory.write_offs.models import WriteOff

__all__ = [
    "Account",
    "Attachment",
    "ChainHead",
    "ChosenColumns",
    "Container",
    "ContainerCheck",
    "ContainerEntry",
    "Count",
    "CountEntry",
    "Explanation",
    "FormSent",
    "Invoice",
    "InvoiceLine",
    "Location",
    "Machine",
    "MachineCheck",
    "Movement",
    "Order",
    "OrderDelivery",
    "OrderLine",
    "Party",
    "PartyPaper",
    "Record",
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
    "WriteOff",
]
