from django.apps import AppConfig


class RecordConfig(AppConfig):
    name = "fleet.record"
    label = "record"
