from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"

    def ready(self) -> None:
        from inventory.attachments.queries import readers
        from jobs.work.queries import may_read_files

        readers["job"] = may_read_files
