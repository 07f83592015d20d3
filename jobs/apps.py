from django.apps import AppConfig
from django.urls import reverse


class JobsConfig(AppConfig):
    name = "jobs"

    def ready(self) -> None:
        from inventory.attachments.queries import readers, there
        from inventory.audit.queries import beside
        from inventory.audit.recording import SIGN_IN
        from inventory.correcting.again import elsewhere
        from inventory.kept.customers import code_of, suggested
        from inventory.ledger import verify
        from inventory.shipping.sales import came_from
        from inventory.shop.access import STAFF
        from jobs.drafts.queries import may_read_files
        from jobs.leaks.at_signing import leak_verdicts
        from jobs.models import Certificate, LeakEvent
        from jobs.pages.access import correcting_address
        from jobs.people.queries import may_read_scans
        from jobs.signing.actions import said_of_jobs
        from jobs.signing.origins import equipment_of
        from jobs.signing.proof import check_totals
        from jobs.units.queries import code_typed, some_customers

        readers["job"] = may_read_files
        readers["certificate"] = may_read_scans
        there["certificate"] = lambda key: Certificate.objects.filter(pk=key).exists()
        readers["leak-event"] = lambda person, _key: getattr(person, "role", "") in STAFF
        there["leak-event"] = lambda key: LeakEvent.objects.filter(pk=key).exists()
        elsewhere["job"] = correcting_address
        came_from.append(equipment_of)
        code_of.append(code_typed)
        suggested.append(some_customers)
        verify.extra_checks.append(check_totals)
        said_of_jobs.append(leak_verdicts)
        kept_as_records()
        can_be_erased()
        beside["person"] = (SIGN_IN,)
        told_of_forms()


def told_of_forms() -> None:
    """The pages of the things of this floor that a form may have been recorded as, by their keys."""
    from inventory.shop import once
    from jobs.models import Customer, FullCharge, LeakRateMethod, Premises, Unit

    def page(name, model, key, **by) -> str:
        found = model.objects.filter(**by).values_list(key, flat=True).first()
        return reverse(name, args=[found]) if found else ""

    once.pages |= {
        "job": lambda key: reverse("job", args=[key]),
        "customer": lambda code: page("customer", Customer, "pk", code=code),
        "premises": lambda code: page("premises", Premises, "pk", code=code),
        "unit": lambda code: page("unit", Unit, "pk", code=code),
        "leak-rate-method": lambda key: page("premises", LeakRateMethod, "premises_id", pk=key),
        "full-charge": lambda key: page("unit", FullCharge, "unit_id", pk=key),
        "leak-event": lambda key: reverse("leak-event", args=[key]),
        "certificate": lambda key: reverse("certificate-edit", args=[key]),
    }


def kept_as_records() -> None:
    """Which tables of this floor are kept under the chain, and what of them can be erased."""
    keep_people()
    keep_units()
    keep_jobs()


def keep_people() -> None:
    from inventory.ledger.stating import keep
    from jobs.models import Certificate, Person

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


def keep_units() -> None:
    from inventory.ledger.stating import keep
    from jobs.models import Customer, FullCharge, LeakRateMethod, Premises, Unit

    worked_out = "worked out from the others, for searches"
    keep(
        Customer,
        "customer",
        key=("code",),
        words=("name", "phone", "address", "note"),
        called="name",
        left_out={"name_folded": worked_out, "search": worked_out},
    )
    keep(Premises, "premises", key=("code",), words=("name", "address", "note"), called="name")
    keep(LeakRateMethod, "leak-rate-method", words=("reason",))
    keep(
        Unit,
        "unit",
        key=("code",),
        words=("name", "plate", "vin", "note", "exemption_proof"),
        called="name",
        left_out={"likeness": worked_out, "search": worked_out},
    )
    keep(FullCharge, "full-charge", words=("reason",))


def keep_jobs() -> None:
    from django.db.models import Q

    from inventory.ledger.records import Part
    from inventory.ledger.stating import keep
    from jobs.drafts.fields import FIELDS
    from jobs.models import Job, JobHand, JobLine, JobStep, LeakEvent

    keep(
        Job,
        "job",
        key=("number", "revision"),
        words=[one.name for one in FIELDS if one.personal],
        parts=(
            Part("lines", JobLine, "job", frozenset({"note"})),
            Part("steps", JobStep, "job", frozenset({"skipped"})),
            Part("hands", JobHand, "job", frozenset({"note"})),
        ),
        only=Q(voucher__isnull=False) | Q(state="signed") | Q(state="corrected"),
        trail=False,
    )
    keep(LeakEvent, "leak-event", words=("places", "parts", "note", "person_said", "void_reason"))


def can_be_erased() -> None:
    """How long words of this floor must be kept, what keeps them from going, and what goes with them."""
    from inventory.ledger import erasing
    from jobs.leaks import erasing as of_leaks
    from jobs.signing import erasing as ours

    erasing.resting |= {
        "customer": ours.rests_on_customer,
        "premises": of_leaks.rests_on_premises,
        "leak-rate-method": of_leaks.rests_on_method,
        "unit": of_leaks.rests_on_unit,
        "full-charge": of_leaks.rests_on_full_charge,
        "leak-event": of_leaks.rests_on_event,
        "person": ours.rests_on_person,
        "certificate": ours.rests_on_certificate,
        "job": ours.rests_on_job,
        "attachment": of_leaks.rests_on_file,
    }
    erasing.refusals |= {
        "customer": ours.refuse_customer,
        "premises": of_leaks.refuse_premises,
        "unit": ours.refuse_unit,
        "person": ours.refuse_person,
        "attachment": ours.refuse_file,
    }
    erasing.afterwards |= {"unit": ours.dropped_go, "customer": ours.dropped_of_customer_go}
