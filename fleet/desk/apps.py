from django.apps import AppConfig


class DeskConfig(AppConfig):
    name = "fleet.desk"
    label = "desk"
