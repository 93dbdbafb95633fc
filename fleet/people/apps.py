from django.apps import AppConfig


class PeopleConfig(AppConfig):
    name = "fleet.people"
    label = "people"
