from django.apps import AppConfig


class ExchangeConfig(AppConfig):
    name = "fleet.exchange"
    label = "exchange"
