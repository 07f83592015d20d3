"""The program as it would be with four more kinds of container. A plugin of pytest, for `walk_made_up_kinds.py`: the
entries stand in the table before Django is there, as they would."""

import os

from inventory.reference.kinds import KINDS, Kind

MADE_UP = (
    Kind("bulk", "bulk tank, vapour alone", "BLK", "virgin", refillable=True, on_scale=False, goes_away=False),
    Kind("bag", "recovery bag", "BAG", "recovered", refillable=True, recovers=True),
    Kind("pouch", "pouch (single use)", "PCH", "virgin", sealed_new=True),
    Kind("drum", "drum of oil", "DRM", "", is_oil=True, on_scale=False),
)
KINDS.update({kind.code: kind for kind in MADE_UP})


def pytest_configure() -> None:
    from django.conf import settings

    database = settings.DATABASES["default"]
    if not database["ENGINE"].endswith("sqlite3"):  # beside that of the tests that this one is one of
        database.setdefault("TEST", {})["NAME"] = f"test_made_up_kinds_{os.getpid()}"
