from django.apps import AppConfig
from django.core.checks import Tags, register
from django.core.signals import request_finished
from django.db.models.signals import pre_migrate
from django.forms import Field
from django.urls import reverse


class ShopledgerConfig(AppConfig):
    name = "shopledger"

    def ready(self) -> None:
        from inventory.attachments.queries import attached_files
        from inventory.ledger import erasing, triggers, verify
        from inventory.ledger.records import others
        from inventory.ledger.stating import keep
        from inventory.shop import once
        from shopledger.backup import outside
        from shopledger.database import check_version, refuse_to_migrate
        from shopledger.inspection.handout import HANDOUT
        from shopledger.inspectors.models import InspectorAccess, Look
        from shopledger.logbook.models import LoadedLog
        from shopledger.monthend.models import LeftOpen
        from shopledger.sealing.models import IssuedReport
        from shopledger.sealing.proof import check_issued, issued_files
        from shopledger.sealing.queries import HANDED
        from shopledger.signin import told

        signing_in()
        keep(InspectorAccess, "inspector-access")
        keep(Look, "look", words=("path",), trail=False)
        keep(LoadedLog, "log")
        keep(LeftOpen, "left-open", words=("why",))
        keep(IssuedReport, "issued", trail=False)
        erasing.once_gone.append(copies_go)
        erasing.untabled[HANDED] = "Receipt of the seal up to"
        others.update({HANDED, HANDOUT})
        request_finished.connect(no_longer_answered)
        told.connect()
        register(check_version, Tags.database)
        pre_migrate.connect(refuse_to_migrate, sender=self)
        triggers.WRITTEN_ONCE["shopledger_look"] = (("id",),)
        triggers.WRITTEN_ONCE["shopledger_issuedreport"] = (("id",), ("seal_id", "report", "format"))
        verify.file_checks.append(check_issued)
        once.pages["bundle"] = lambda key: reverse("bundle", args=[key])
        once.pages["log"] = lambda key: reverse("log", args=[key])
        once.pages["sheet"] = lambda key: reverse("sheet", args=[key])
        outside.sources += [attached_files, issued_files]
        # Forms are made after this, and say what to do and not only that something is required.
        Field.default_error_messages["required"] = "This is missing. Enter it, or choose one."


def signing_in() -> None:
    from django.contrib.auth.signals import user_logged_in, user_logged_out
    from django.db.models.signals import post_save

    from jobs.models import Person
    from shopledger.signin import receivers

    user_logged_in.connect(receivers.signed_in)
    user_logged_out.connect(receivers.signed_out)
    post_save.connect(receivers.person_changed, sender=Person)


def copies_go() -> None:
    """Once words were erased, what else of ours may hold them."""
    from shopledger.inspection import work as bundles  # here: it draws, and every command loads this file
    from shopledger.logbook import work as logs
    from shopledger.sheet_pages import work as sheets

    bundles.words_are_gone()
    logs.words_are_gone()
    sheets.words_are_gone()


def no_longer_answered(**_kwargs: object) -> None:
    """Also what was streamed is written by now."""
    from inventory.ledger.begun import begin
    from inventory.shop.clock import answer_in

    answer_in(None)
    begin(known=False)
