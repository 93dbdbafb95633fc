from django.apps import AppConfig


class LettersConfig(AppConfig):
    name = "fleet.letters"
    label = "letters"
