"""Which roles may open a page: the same guard as on the floor below."""

from inventory.shop.access import role_required

__all__ = ["role_required"]
