from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"

    def ready(self) -> None:
        from inventory.attachments.queries import readers, there
        from inventory.audit.queries import beside
        from inventory.audit.recording import SIGN_IN
        from inventory.correcting.again import elsewhere
        from inventory.ledger import verify
        from jobs.drafts.queries import may_read_files
        from jobs.models import Certificate
        from jobs.pages.access import correcting_address
        from jobs.people.queries import may_read_scans
        from jobs.signing.proof import check_totals

        readers["job"] = may_read_files
        readers["certificate"] = may_read_scans
        there["certificate"] = lambda key: Certificate.objects.filter(pk=key).exists()
        elsewhere["job"] = correcting_address
        verify.extra_checks.append(check_totals)
        kept_as_records()
        can_be_erased()
        beside["person"] = (SIGN_IN,)


def kept_as_records() -> None:
    """Which tables of this floor are kept under the chain, and what of them can be erased."""
    from django.db.models import Q

    from inventory.ledger.records import Part
    from inventory.ledger.stating import keep
    from jobs.drafts.fields import FIELDS
    from jobs.models import Certificate, Customer, Job, JobLine, JobStep, Person, Unit

    worked_out = "worked out from the others, for searches"
    sign_in = "of signing in, and changes with it"
    keep(
        Person,
        "person",
        key=("username",),
        words=("name", "email"),
        called="name",
        left_out={"password": sign_in, "last_login": sign_in},
    )
    keep(Certificate, "certificate", words=("note",))
    keep(
        Customer,
        "customer",
        key=("code",),
        words=("name", "phone", "address", "note"),
        called="name",
        left_out={"name_folded": worked_out, "search": worked_out},
    )
    keep(
        Unit,
        "unit",
        key=("code",),
        words=("name", "plate", "vin", "note"),
        called="name",
        left_out={"likeness": worked_out, "search": worked_out},
    )
    keep(
        Job,
        "job",
        key=("number", "revision"),
        words=[one.name for one in FIELDS if one.personal],
        parts=(
            Part("lines", JobLine, "job", frozenset({"note"})),
            Part("steps", JobStep, "job", frozenset({"skipped"})),
        ),
        only=Q(voucher__isnull=False) | Q(state="signed") | Q(state="corrected"),
        trail=False,
    )


def can_be_erased() -> None:
    """How long words of this floor must be kept, what keeps them from going, and what goes with them."""
    from inventory.ledger import erasing
    from jobs.signing import erasing as ours

    erasing.resting |= {
        "customer": ours.rests_on_customer,
        "unit": ours.rests_on_unit,
        "person": ours.rests_on_person,
        "certificate": ours.rests_on_certificate,
        "job": ours.rests_on_job,
        "attachment": ours.rests_on_file,
    }
    erasing.refusals |= {
        "customer": ours.refuse_customer,
        "unit": ours.refuse_unit,
        "person": ours.refuse_person,
        "attachment": ours.refuse_file,
    }
    erasing.afterwards |= {"unit": ours.dropped_go, "customer": ours.dropped_of_customer_go}
