from django.apps import AppConfig


class LoansConfig(AppConfig):
    name = "fleet.loans"
    label = "loans"
