from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class LettersConfig(AppConfig):
    name = "fleet.letters"
    label = "letters"

    def ready(self) -> None:
        post_migrate.connect(_keep_search, sender=self)


def _keep_search(*, using: str, **kwargs: Any) -> None:
    from fleet.letters.models.letters import ADDRESSES
    from fleet.people.models.trigrams import keep_trigrams

    keep_trigrams(using, ADDRESSES)
