"""A person's name as lists have it: in one column or two, the first name first or behind a comma."""

from __future__ import annotations

from django.utils.translation import gettext as _s

from fleet.exchange.actions.lists.base import refuse, through
from fleet.exchange.reading.columns import ListColumn, Row, Values
from fleet.people.forms.families import PupilForm
from fleet.people.models import Pupil

_AFTER_A_COMMA = {"jr", "sr", "ii", "iii", "iv"}
_LONGEST = Pupil._meta.get_field("name").max_length or 0
NAMES = (
    "pupil", "student", "pupil name", "student name", "full name", "schuler", "schulerin", "nom", "eleve",
    "nombre", "alumno", "alumna", "nome", "allievo", "naam", "leerling", "schuler in", "schulername", "surname",
    "last name", "family name", "nachname", "familienname", "nom de famille", "nom et prenom", "nom prenom",
    "apellido", "apellidos", "nombre y apellidos", "cognome", "achternaam", "name vorname", "vor und nachname",
)  # fmt: skip
# Who has it, as a list of horns or loans calls the pupil: the same file may be brought in as a list of pupils.
BORROWERS = ("borrower", "lent to", "ausgeliehen an", "entleiher", "emprunteur", "prestatario")
WHO = ("guardian", "parent", "mother", "eltern", "elternteil", "erziehungsberechtigte", "parent 1", "guardian 1",
        "responsable", "tutor", "genitore", "ouder", "verzorger", "contact", "erziehungsberechtigter", "eltern 1",
        "elternteil 1", "erziehungsberechtigte r", "sorgeberechtigte", "name der eltern", "parents", "parent name",
        "guardian name", "parent guardian", "carer", "responsable legal", "genitori", "ouders")  # fmt: skip
MAIL = ("email", "e mail", "parent email", "guardian email", "mail", "email eltern", "courriel", "correo", "posta",
         "parent 1 email", "guardian 1 email", "e mail eltern", "emailadresse", "e mail adresse", "email address",
         "mail adresse", "adresse email", "contact email", "mail parents", "correo electronico")  # fmt: skip
TELEPHONE = ("telephone", "phone", "mobile", "tel", "telefon", "handy", "telefono", "telefoon", "parent phone",
              "telephone number", "phone number", "mobil", "mobilnummer", "telefonnummer", "handynummer", "portable",
              "contact number", "parent telephone", "parent 1 phone", "guardian 1 phone")  # fmt: skip
GIVEN = ListColumn("given", "First name", through(PupilForm, "name"), (
    "given name", "forename", "vorname", "rufname", "prenom", "nombre de pila", "voornaam", "roepnaam",
    "preferred name",
), vital=True)  # fmt: skip


def whole_name(row: Row, value: Values) -> str:
    """Puts one name together from a first name in a column of its own, or from `Quill, Ada`.

    Returns the family name where the list gives it apart, else "".
    """
    given, name = value.pop("given", ""), value.get("name", "")
    family, _, first = (part.strip() for part in name.partition(","))
    if family and first and "," not in first and first.rstrip(".").casefold() not in _AFTER_A_COMMA:
        name = f"{first} {family}"
    else:
        family = ""
    if given and name and not name.casefold().startswith(f"{given} ".casefold()):
        family = family or name
        name = f"{given} {name}"
    if name:
        value["name"] = name
    if len(name) > _LONGEST:
        refuse(row, "Name", name, _s("Use at most %(most)s letters."), most=_LONGEST)
    return family
