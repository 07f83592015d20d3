from django.apps import AppConfig
from django.forms import Field


class ShopledgerConfig(AppConfig):
    name = "shopledger"

    def ready(self) -> None:
        # Forms are made after this, and say what to do and not only that something is required.
        Field.default_error_messages["required"] = "This is missing. Enter it, or choose one."
