from django.apps import AppConfig
from django.utils.translation import gettext

from identify.core.horns.speech import speak_by


class IdentifyConfig(AppConfig):
    name = "identify"
    verbose_name = "Identify"

    def ready(self) -> None:
        speak_by(gettext)
