from django.apps import AppConfig


class AlongConfig(AppConfig):
    name = "fleet.along"
    label = "along"
