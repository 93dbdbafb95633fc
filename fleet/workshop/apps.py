from django.apps import AppConfig


class WorkshopConfig(AppConfig):
    name = "fleet.workshop"
    label = "workshop"
