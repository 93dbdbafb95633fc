from django.apps import AppConfig


class ReportsConfig(AppConfig):
    name = "fleet.reports"
    label = "reports"
