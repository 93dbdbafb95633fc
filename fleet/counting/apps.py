from django.apps import AppConfig


class CountingConfig(AppConfig):
    name = "fleet.counting"
    label = "counting"
