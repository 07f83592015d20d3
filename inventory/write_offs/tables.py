"""The list of write-offs that asked for a second yes."""

import django_tables2 as tables

from inventory.write_offs.models import WriteOff
from inventory.write_offs.queries import ACTS, lost_of


class WriteOffTable(tables.Table):
    lost = tables.Column(verbose_name="Writes off", orderable=False, linkify=("write-off", [tables.A("pk")]))
    act = tables.Column(verbose_name="Kind", order_by=("act", "id"))
    asked_by = tables.Column(accessor="asked_name", order_by=("asked_name", "id"))
    asked_at = tables.DateTimeColumn(verbose_name="Asked", format="j M Y, H:i", order_by="id")
    state = tables.Column(order_by=("state", "id"))
    answered_by = tables.Column(accessor="answered_name", order_by=("answered_name", "id"))
    voucher = tables.Column(accessor="voucher_id", linkify=("voucher", [tables.A("voucher_id")]))

    class Meta:
        model = WriteOff
        fields = ("lost", "act", "asked_by", "asked_at", "state", "answered_by", "voucher")
        empty_text = "Nothing was written off beyond the limit."
        order_by = "-asked_at"

    def render_lost(self, record: WriteOff) -> str:
        return lost_of(record)

    def render_act(self, record: WriteOff) -> str:
        return ACTS[record.act]
