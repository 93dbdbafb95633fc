from django.apps import AppConfig


class MatchingConfig(AppConfig):
    name = "fleet.matching"
    label = "matching"
