"""The columns of a list of pupils, with those of up to two guardians."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _s

from fleet.exchange.actions.lists.base import a_day, through
from fleet.exchange.actions.lists.names import BORROWERS, GIVEN, MAIL, NAMES, TELEPHONE, WHO
from fleet.exchange.reading.columns import ListColumn, Reading
from fleet.ground.languages.known import KNOWN, named
from fleet.ground.languages.marks import _s_lazy
from fleet.people.forms.families import GuardianForm, PupilForm

FIRST = ("guardian", "guardian_email", "guardian_telephone", "guardian_language")
SECOND = ("other", "other_email", "other_telephone", "other_language")
_ONE_ADDRESS = _s_lazy("Give one address. A second guardian has columns of their own.")
_NO_ADDRESS = _s_lazy("This is no e-mail address; it looks like name@example.org.")


def _mail(text: str, read: Reading) -> str:
    try:
        return _as_mail(text, read).lower()
    except ValidationError as wrong:
        raise ValidationError(_ONE_ADDRESS if text.count("@") > 1 else _NO_ADDRESS) from wrong


def _language(text: str, read: Reading) -> str:
    one = named(text)
    if one is None:
        raise ValidationError(
            _s("Name a language in which the site writes to families: %(known)s."),
            params={"known": [language.english for language in KNOWN.values()]},
        )
    if one.code not in read.school.languages:
        raise ValidationError(
            _s("%(language)s is not switched on at your school; a head does that under Settings."),
            params={"language": [one.english]},
        )
    return one.code


_as_mail = through(GuardianForm, "email")
COLUMNS = (
    ListColumn("name", "Name", through(PupilForm, "name"), (*NAMES, *BORROWERS), required=True),
    GIVEN,
    ListColumn("year", "Year", through(PupilForm, "year"), (
        "grade", "form", "jahrgang", "stufe", "klassenstufe", "niveau", "annee", "curso", "anno", "leerjaar",
    )),
    ListColumn("group", "Class or ensemble", through(PupilForm, "group"), (
        "class", "group", "ensemble", "band", "klasse", "gruppe", "classe", "groupe", "clase", "grupo", "gruppo",
        "klas",
    )),
    ListColumn("pupil_id", "Pupil id", through(PupilForm, "pupil_id"), (
        "id", "student id", "admission number", "school's own pupil id", "schulernummer", "matricule", "matricula",
        "leerlingnummer", "schuler nr", "schulernr", "schuler id", "student number", "pupil number", "admission no",
    ), vital=True),
    ListColumn("left_on", "Left on", a_day(PupilForm, "left_on"), (
        "left", "leaving date", "abgang", "abgegangen am", "date de depart", "fecha de baja",
    ), vital=True),
    ListColumn("guardian", "Guardian", through(GuardianForm, "name"), WHO),
    ListColumn("guardian_email", "Guardian’s e-mail", _mail, MAIL),
    ListColumn("guardian_telephone", "Guardian’s telephone", through(GuardianForm, "telephone"), TELEPHONE),
    ListColumn("guardian_language", "Guardian’s language", _language, (
        "language", "home language", "sprache", "familiensprache", "langue", "idioma", "jezyk", "dil",
        "parent 1 language",
    )),
    ListColumn("other", "Second guardian", through(GuardianForm, "name"), (
        "parent 2", "guardian 2", "father", "vater", "pere",
    )),
    ListColumn("other_email", "Second guardian’s e-mail", _mail, ("parent 2 email", "guardian 2 email", "email 2")),
    ListColumn("other_telephone", "Second guardian’s telephone", through(GuardianForm, "telephone"), (
        "parent 2 phone", "guardian 2 phone", "telephone 2", "phone 2",
    )),
    ListColumn("other_language", "Second guardian’s language", _language, ("parent 2 language", "language 2")),
)  # fmt: skip
