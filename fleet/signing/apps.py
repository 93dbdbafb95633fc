from django.apps import AppConfig


class SigningConfig(AppConfig):
    name = "fleet.signing"
    label = "signing"
