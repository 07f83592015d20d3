from django.apps import AppConfig
from django.core.checks import Error, Tags, register
from django.db import connections
from django.db.models.signals import post_migrate


class InventoryConfig(AppConfig):
    name = "inventory"

    def ready(self) -> None:
        post_migrate.connect(install_triggers, sender=self)
        register(triggers_stand, Tags.database)


def install_triggers(using: str, **_kwargs: object) -> None:
    """SQLite loses triggers whenever a migration rebuilds a table: put them back after each `migrate`."""
    from inventory.ledger import triggers

    triggers.install(connections[using])


def triggers_stand(app_configs: object, databases: list[str] | None = None, **_kwargs: object) -> list[Error]:
    """Name each trigger that a migrated database should have and has not."""
    from inventory.ledger import triggers

    errors = []
    for alias in databases or []:
        connection = connections[alias]
        if not set(triggers.WRITTEN_ONCE) <= set(connection.introspection.table_names()):
            continue
        for name in sorted(set(triggers.wanted(connection)) - triggers.standing(connection)):
            errors.append(
                Error(f"The database has lost its trigger {name}.", hint="Run manage.py migrate.", id="inventory.E001")
            )
    return errors
