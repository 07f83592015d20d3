from django.apps import AppConfig


class ShopledgerConfig(AppConfig):
    name = "shopledger"
