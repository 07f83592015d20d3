from django.apps import AppConfig
from django.core.checks import Error, Tags, register
from django.db import connections
from django.db.models import Model
from django.db.models.signals import post_migrate
from django.urls import reverse


class InventoryConfig(AppConfig):
    name = "inventory"

    def ready(self) -> None:
        from inventory import models
        from inventory.attachments.erasing import bytes_go
        from inventory.attachments.proof import check_attachments
        from inventory.attachments.queries import there
        from inventory.containers import proof, story_proof
        from inventory.ledger import erasing, verify
        from inventory.parties.queries import rests_on_party

        kept_as_records()
        erasing.resting["party"] = rests_on_party
        erasing.afterwards["attachment"] = bytes_go
        there["voucher"] = lambda key: models.Voucher.objects.filter(pk=key).exists()
        there["party-paper"] = lambda key: models.PartyPaper.objects.filter(pk=key).exists()
        there["machine"] = lambda key: models.Machine.objects.filter(pk=key).exists()
        verify.extra_checks += [proof.check_entries, proof.check_containers, story_proof.check_stories]
        verify.file_checks.append(check_attachments)
        correctable()
        told_of_forms()
        post_migrate.connect(install_triggers, sender=self)
        register(triggers_stand, Tags.database)


def kept_as_records() -> None:
    """Which tables of this floor are kept under the chain, and what of them can be erased."""
    from django.db.models import Q

    from inventory import models
    from inventory.audit.changes import told_as
    from inventory.audit.recording import SIGN_IN
    from inventory.containers.rows import STATE
    from inventory.ledger.clocks import CLOCK, SEEN
    from inventory.ledger.records import Part, keys, others
    from inventory.ledger.stating import keep
    from inventory.write_offs.queries import ACTS

    others.update({SIGN_IN, CLOCK, SEEN})
    told = dict.fromkeys(STATE, "told by its story, which is proved")
    told = {name.removesuffix("_id"): why for name, why in told.items()}
    keys[models.Weighing] = ("voucher_id", "line")
    keep(models.Substance, "substance", key=("code",), trail=False)
    keep(models.Seal, "seal", key=("through",), trail=False)
    keep(models.Shop, "settings")
    keep(models.Location, "place", key=("name",))
    keep(models.Scale, "scale", key=("code",))
    keep(models.ScaleCheck, "scale-check", words=("note",))
    keep(
        models.Container,
        "container",
        key=("code",),
        left_out={"id": "nothing names it by its number", **told},
        trail=False,
    )
    keep(models.ContainerCheck, "container-check", words=("note",))
    keep(models.Machine, "machine", words=("note", "statement_by"))
    keep(models.MachineCheck, "machine-check", words=("note",))
    keep(models.ReorderPoint, "reorder-point")
    keep(models.Order, "order", key=("code",), words=("note",))
    keep(models.OrderLine, "order-line", words=("cancelled_why",))
    keep(models.OrderDelivery, "order-delivery", words=("undone_why",))
    keep(models.Invoice, "invoice", words=("note", "why", "void_why"))
    keep(models.InvoiceLine, "invoice-line", words=("called",))
    keep(models.Party, "party", key=("code",), words=("name", "address"), called="name")
    keep(models.PartyPaper, "party-paper", words=("facility", "note", "withdrawn_why"))
    entries = Part("entries", models.CountEntry, "count", frozenset({"reason_note"}))
    keep(models.Count, "count", words=("note",), parts=(entries,), only=~Q(state="open"), trail=False)
    keep(models.Explanation, "count-reason", words=("note",), trail=False)
    keep(models.TareChange, "tare-change", words=("why",), trail=False)
    keep(models.WriteOff, "write-off", words=("note", "answer"))
    told_as["write-off", "act"] = ACTS
    keep(models.TheirWeight, "their-weight", trail=False)
    keep(
        models.Attachment,
        "attachment",
        words=("title", "name", "sha256", "withdrawn_why"),
        trail=False,
    )


def correctable() -> None:
    """How each kind of entry is corrected: in the form by which it is made."""
    from inventory.correcting import of_containers
    from inventory.correcting.again import register
    from inventory.counting.again import Counted, Tared
    from inventory.kept.again import Found, GivenBack, Identification, KeptFor, TakenIn
    from inventory.machines.again import Recycled
    from inventory.receiving.again import Opened, Received
    from inventory.releases.again import Released
    from inventory.shipping.again import Shipped

    register("opening", Opened)
    register("receipt", Received)
    register("move", of_containers.Moved)
    register("decant", of_containers.Decanted)
    register("regrade", of_containers.Regraded)
    register("regrade", Recycled)
    register("release", Released)
    register("retirement", of_containers.Retired)
    register("count", Counted)
    register("tare", Tared)
    register("shipment", Shipped)
    register("taking-in", TakenIn)
    register("setting-apart", KeptFor)
    register("giving-back", GivenBack)
    register("found", Found)
    register("identification", Identification)


def told_of_forms() -> None:
    """What a form was recorded as, and the pages of things beside the stock, by their keys."""
    from inventory import models
    from inventory.correcting.recorded import told
    from inventory.shop import once

    once.vouchers_told.append(told)
    once.pages |= {
        "container": lambda code: reverse("container", args=[code]),
        "machine": lambda key: reverse("machine", args=[key]),
        "machine-check": lambda key: _page("machine", models.MachineCheck, "machine_id", key),
        "scale-check": lambda key: _page("scale", models.ScaleCheck, "scale_id", key),
        "count": lambda key: reverse("count", args=[key]),
        "write-off": lambda key: reverse("write-off", args=[key]),
        "order": lambda code: _page("order", models.Order, "pk", code, "code"),
        "party-paper": lambda key: reverse("paper", args=[key]),
        "invoice": lambda key: reverse("invoice", args=[key]),
    }


def _page(name: str, model: type[Model], whose: str, key: str, by: str = "pk") -> str:
    """The page of what a row belongs to; blank where the row is gone."""
    found = model.objects.filter(**{by: key}).values_list(whose, flat=True).first()
    return reverse(name, args=[found]) if found else ""


def install_triggers(using: str, **_kwargs: object) -> None:
    """SQLite loses triggers whenever a migration rebuilds a table: put them back after each `migrate`.
    The row that holds the chain's head is made here too, so that there is one before the first voucher."""
    from inventory.ledger import canonical, triggers
    from inventory.ledger.models import ChainHead, Voucher, new_ledger_id

    tables = set(connections[using].introspection.table_names())
    if not set(triggers.WRITTEN_ONCE) <= tables:
        return  # part way through the first migrations
    triggers.install(connections[using])
    new = new_ledger_id()
    last = Voucher.objects.using(using).order_by("-number").first()
    ChainHead.objects.using(using).get_or_create(
        id=1,
        defaults={"number": last.number, "digest": last.digest, "recorded_at": last.recorded_at}
        if last
        else {"ledger_id": new, "digest": canonical.genesis(new)},
    )


def triggers_stand(app_configs: object, databases: list[str] | None = None, **_kwargs: object) -> list[Error]:
    """Name each trigger that a migrated database should have and has not."""
    from inventory.ledger import triggers

    errors = []
    for alias in databases or []:
        connection = connections[alias]
        if not set(triggers.WRITTEN_ONCE) <= set(connection.introspection.table_names()):
            continue
        for name in triggers.missing(connection):
            errors.append(
                Error(
                    f"The database has lost its trigger {name}.",
                    hint="Run manage.py migrate --skip-checks, which puts it back, then manage.py verify.",
                    id="inventory.E001",
                )
            )
    return errors
