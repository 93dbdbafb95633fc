from django.apps import AppConfig


class RegisterConfig(AppConfig):
    name = "fleet.register"
    label = "register"
