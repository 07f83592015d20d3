from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"

    def ready(self) -> None:
        from inventory.attachments.queries import readers, there
        from inventory.audit.recording import follow
        from inventory.correcting.again import elsewhere
        from inventory.ledger import verify
        from jobs.drafts.queries import may_read_files
        from jobs.models import Certificate, Customer, Person, Unit
        from jobs.pages.access import correcting_address
        from jobs.people.queries import may_read_scans
        from jobs.signing.proof import check_totals

        readers["job"] = may_read_files
        readers["certificate"] = may_read_scans
        there["certificate"] = lambda key: Certificate.objects.filter(pk=key).exists()
        elsewhere["job"] = correcting_address
        verify.extra_checks.append(check_totals)
        follow(Person, Certificate)
        follow(Customer, Unit, hidden=("name_folded", "search", "likeness", "code"))
