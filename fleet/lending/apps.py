from django.apps import AppConfig
from django.db.models.signals import post_save


class LoansConfig(AppConfig):
    name = "fleet.lending"
    label = "loans"

    def ready(self) -> None:
        from fleet.lending.actions.pupils import take_new_name
        from fleet.people.models import Pupil

        post_save.connect(take_new_name, sender=Pupil, dispatch_uid="a pupil's new name")
