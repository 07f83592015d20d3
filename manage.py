#!/usr/bin/env python
"""Django's command line for this project."""

import os
import sys

# An older Python reads no more than this file: nothing else here would tell it what is wrong.
if sys.version_info < (3, 11):  # noqa: UP036
    version = sys.version.split()[0]
    print(f"Shopledger needs Python 3.11 or newer, and this is {version}: make .venv with that.", file=sys.stderr)
    sys.exit(2)


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopledger.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
