"""Customers as this floor knows them: by a code, and by what the floor above says of them."""

from collections.abc import Callable

from inventory.text.refusal import Refused

# Given by whoever keeps the customers: the code of the one that somebody typed (raises Refused where it is none, or not
# one alone), and some of them to choose from.
code_of: list[Callable[[str], str]] = []
suggested: list[Callable[[], list[str]]] = []


def customer_code(typed: str) -> str:
    """The code of the customer that was typed, by name or code. Raises Refused."""
    if not code_of:
        raise Refused("There are no customers here.", "customer")
    return code_of[0](typed)


def customer_suggestions() -> list[str]:
    return suggested[0]() if suggested else []
