from django.apps import AppConfig


class LoansConfig(AppConfig):
    name = "fleet.lending"
    # The tables keep the name they were born under.
    label = "loans"
