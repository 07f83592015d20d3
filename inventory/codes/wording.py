"""How a page calls what the ledger calls by a code. Pure: no Django here."""

from collections.abc import Mapping


def with_code(code: str, names: Mapping[str, str]) -> str:
    """A code with its name before it, e.g. `Frost Supply (P-000003)`; alone where no name is known."""
    return f"{names[code]} ({code})" if code in names else code
