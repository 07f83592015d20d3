from django.apps import AppConfig
from django.core.checks import Tags, register
from django.core.signals import request_finished
from django.db.models.signals import pre_migrate
from django.forms import Field


class ShopledgerConfig(AppConfig):
    name = "shopledger"

    def ready(self) -> None:
        from inventory.attachments.queries import attached_files
        from inventory.audit.recording import follow
        from inventory.ledger import triggers, verify
        from shopledger.backup import outside
        from shopledger.database import check_version, refuse_to_migrate
        from shopledger.inspectors.models import InspectorAccess
        from shopledger.sealing.proof import check_issued, issued_files

        follow(InspectorAccess)
        request_finished.connect(no_longer_answered)
        register(check_version, Tags.database)
        pre_migrate.connect(refuse_to_migrate, sender=self)
        triggers.WRITTEN_ONCE["shopledger_look"] = (("id",),)
        triggers.WRITTEN_ONCE["shopledger_issuedreport"] = (("id",), ("seal_id", "report", "format"))
        verify.file_checks.append(check_issued)
        outside.sources += [attached_files, issued_files]
        # Forms are made after this, and say what to do and not only that something is required.
        Field.default_error_messages["required"] = "This is missing. Enter it, or choose one."


def no_longer_answered(**_kwargs: object) -> None:
    """Also what was streamed is written by now."""
    from inventory.shop.clock import answer_in

    answer_in(None)
