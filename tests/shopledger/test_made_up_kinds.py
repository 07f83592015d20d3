"""A kind of container is an entry in the table and a migration: shown by kinds that nobody sells."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
WALK = "tests/shopledger/walk_made_up_kinds.py"


@pytest.mark.both
def test_containers_of_made_up_kinds_are_on_every_page():
    command = [sys.executable, "-m", "pytest", "-q", "-p", "tests.made_up_kinds", "-n", "0", WALK]
    alone = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    done = subprocess.run(command, cwd=ROOT, env=alone, capture_output=True, text=True)
    assert done.returncode == 0 and "13 passed" in done.stdout, done.stdout + done.stderr
