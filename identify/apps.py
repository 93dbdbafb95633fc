from django.apps import AppConfig
from django.utils.formats import number_format
from django.utils.translation import get_language, gettext

from identify.core.horns.note_names import named
from identify.core.horns.speech import speak_by


class IdentifyConfig(AppConfig):
    name = "identify"
    verbose_name = "Identify"

    def ready(self) -> None:
        speak_by(
            gettext,
            number_format,
            lambda note: named(note, get_language() or ""),
            lambda: (get_language() or "").startswith("de"),
        )
