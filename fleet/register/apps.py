from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class RegisterConfig(AppConfig):
    name = "fleet.register"
    label = "register"

    def ready(self) -> None:
        post_migrate.connect(_keep_search, sender=self)


def _keep_search(*, using: str, **kwargs: Any) -> None:
    from fleet.people.models.trigrams import keep_trigrams
    from fleet.register.models.searching import HORNS, NUMBERS

    keep_trigrams(using, HORNS, NUMBERS)
