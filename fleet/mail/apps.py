from django.apps import AppConfig


class MailConfig(AppConfig):
    name = "fleet.mail"
    label = "mail"
