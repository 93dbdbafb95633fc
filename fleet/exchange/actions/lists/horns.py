"""A list of horns. The register number tells which horn a row is about; what it is stays open until identified."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models.functions import Upper
from django.utils.translation import gettext as _s

from fleet.exchange.actions.lists.base import (
    CHANGED,
    NEW,
    NO_HORN,
    REFUSED,
    SAME,
    Seen,
    Stale,
    a_day_or_year,
    a_sum,
    an_amount,
    changed_since,
    is_untouched,
    judge,
    leave_empty,
    numbered,
    one_of,
    refuse,
    through,
)
from fleet.exchange.reading.columns import ListColumn, Reading, Row, Values  # fmt: skip
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused
from fleet.people.actions.many import amend_many
from fleet.people.models import School, User
from fleet.record.queries.pointing import what_points_to
from fleet.register.actions import many
from fleet.register.forms.horns import HornForm
from fleet.register.forms.places import PlaceForm
from fleet.register.models import FormerNumber, Horn
from fleet.register.models.describing import LONGEST
from fleet.register.models.kinds import BELLS
from fleet.register.models.numbers import TAKEN

_FINISHES = {
    "lacquer": "lacquered", "lacquered brass": "lacquered", "lackiert": "lacquered", "vernis": "lacquered",
    "verni": "lacquered", "lacado": "lacquered", "laccato": "lacquered", "gelakt": "lacquered",
    "bare": "bare", "raw": "bare", "raw brass": "bare", "unlacquered": "bare", "unlackiert": "bare", "brass": "bare",
    "silver": "silver", "versilbert": "silver", "argente": "silver", "silver plate": "silver",
    "nickel": "nickel", "vernickelt": "nickel", "nickel plate": "nickel", "neusilber": "nickel-silver",
    "german silver": "nickel-silver", "maillechort": "nickel-silver", "unlackiertes messing": "bare", "anders": "other",
}  # fmt: skip
_WRAPS = {
    "normal": "standard", "ublich": "standard", "compact wrap": "compact", "kompakt": "compact", "trumpet": "trumpet",
    "wie eine trompete": "trumpet", "oval": "oval",
    # As our own lists write it.
    "not looked at": "",
}  # fmt: skip
_BELLS = {
    "screw": "screw", "screw bell": "screw", "detachable": "screw", "schraubbar": "screw", "abschraubbar": "screw",
    "demontable": "screw", "yes": "screw", "no": "fixed", "one piece": "fixed", "fest": "fixed", "fixe": "fixed",
}  # fmt: skip


def _described(text: str, read: Reading) -> str:
    if len(text) > LONGEST:
        raise ValidationError(
            _s("Use at most %(most)s letters; the rest can go into the notes."), params={"most": LONGEST}
        )
    return text


COLUMNS = (
    ListColumn("number", "Register number", through(HornForm, "number"), (
        "number", "no", "nr", "horn no", "inventory number", "asset number", "tag", "id", "inventarnummer", "nummer",
        "numero", "numero inventaire", "numero de inventario", "matricola", "inventarisnummer", "instrument no",
        "inv nr", "inventar nr", "inventarnr", "inventory no", "inventario", "horn number", "instrumentennummer",
        "instrumentennr", "instrumentnummer", "asset tag", "asset", "register", "reg no", "code", "code inventaire",
    ), required=True),
    ListColumn("described_as", "What it is", _described, (
        "kind", "type", "description", "described as", "instrument", "horn", "art", "bezeichnung", "beschreibung",
        "instrument type", "tipo", "descripcion", "modele d instrument", "soort", "bauart", "typ", "instrumententyp",
        "instrumentenart", "designation", "libelle", "denominacion", "denominazione", "descrizione", "omschrijving",
    )),
    ListColumn("maker", "Maker", through(HornForm, "maker"), (
        "make", "manufacturer", "brand", "hersteller", "marke", "marque", "facteur", "fabricant", "marca", "fabricante",
        "costruttore", "merk", "bouwer",
    )),
    ListColumn("model", "Model", through(HornForm, "model"), ("modell", "modele", "modelo", "modello", "model no")),
    ListColumn("serial_number", "Serial number", through(HornForm, "serial_number"), (
        "serial", "serial no", "s n", "seriennummer", "numero de serie", "seriale", "serienummer", "fabriknummer",
        "serien nr", "seriennr", "fabrik nr", "fabriknr", "numero di serie",
    )),
    ListColumn("finish", "Finish", one_of(Horn.Finish.choices, _FINISHES), (
        "plating", "oberflache", "lackierung", "finition", "acabado", "finitura", "afwerking",
    )),
    ListColumn("bell", "Bell", one_of(BELLS, _BELLS), (
        "screw bell", "schallstuck", "schallbecher", "pavillon", "campana", "beker",
    )),
    ListColumn("wrap", "Wrap", one_of(Horn.Wrap.choices, _WRAPS), ("wicklung", "enroulement")),
    ListColumn("room", "Room", through(PlaceForm, "room"), (
        "place", "location", "stored in", "raum", "ort", "standort", "lagerort", "salle", "lieu", "sala", "lugar",
        "ubicacion", "luogo", "lokaal", "plaats", "aufbewahrungsort", "emplacement", "local", "stanza", "ruimte",
    )),
    ListColumn("shelf", "Shelf", through(PlaceForm, "shelf"), (
        "rack", "locker", "cupboard", "regal", "fach", "schrank", "etagere", "armoire", "estante", "scaffale", "kast",
    )),
    ListColumn("acquired_on", "Acquired on", a_day_or_year(HornForm, "acquired_on"), (
        "acquired", "bought", "purchase date", "date of purchase", "bought on", "gekauft am", "kaufdatum",
        "anschaffung", "date d achat", "fecha de compra", "data di acquisto", "aankoopdatum", "anschaffungsdatum",
        "angeschafft am", "angeschafft", "erworben am", "acquisition date", "date acquired", "purchased",
        "purchased on", "date d acquisition", "acquis le", "achete le", "fecha de adquisicion", "gekocht op",
    )),
    ListColumn("price", "Price paid", an_amount(HornForm, "price"), (
        "price", "cost", "purchase price", "preis", "kaufpreis", "anschaffungspreis", "neupreis", "prix", "precio",
        "prezzo", "prijs", "anschaffungswert", "einkaufspreis", "prix d achat", "precio de compra", "prezzo d acquisto",
        "aankoopprijs",
    )),
    ListColumn("value", "Value today", an_amount(HornForm, "value"), (
        "value", "insured value", "current value", "wert", "zeitwert", "versicherungswert", "valeur", "valor", "valore",
        "waarde", "insurance value", "replacement value", "wiederbeschaffungswert", "valeur actuelle",
        "valeur d assurance", "valor actual",
    )),
    ListColumn("notes", "Notes", through(HornForm, "notes"), (
        "note", "remarks", "comment", "comments", "bemerkung", "bemerkungen", "anmerkung", "notizen", "remarques",
        "observaciones", "osservazioni", "opmerkingen",
    )),
)  # fmt: skip
WRITTEN = tuple(column.name for column in COLUMNS if column.name not in {"number", "room", "shelf"})


def _as_kept(horn: Horn) -> Values:
    """The horn's columns as an import compares them."""
    kept = {name: "" if (value := getattr(horn, name)) is None else str(value) for name in WRITTEN}
    for money in ("price", "value"):
        if (amount := getattr(horn, money)) is not None:
            kept[money] = f"{amount:.2f}"
    kept["acquired_on"] = acquired_as_listed(horn)
    kept["number"] = horn.number
    kept["room"], kept["shelf"] = (horn.place.room, horn.place.shelf) if horn.place else ("", "")
    return kept


def acquired_as_listed(horn: Horn) -> str:
    """`2019-09-03`, or `2019-09` or `2019` where no more is known."""
    return str(horn.acquired_on or "")[: _LENGTHS[Horn.Within(horn.acquired_within)]]


_LENGTHS = {Horn.Within.YEAR: 4, Horn.Within.MONTH: 7, Horn.Within.DAY: 10}
_WITHIN = {length: within for within, length in _LENGTHS.items()}


def _to_columns(after: Mapping[str, str], places: Mapping[tuple[str, str], Any]) -> dict[str, Any]:
    """Kept texts as values of the horn's columns."""
    values = {
        name: _FIELDS[name].to_python(after[name] or None if name in _NULLABLE else after[name])
        for name in (*WRITTEN, "number")
        if name in after and name != "acquired_on"
    }
    if said := after.get("acquired_on", ""):
        first = date.fromisoformat(f"{said}-01-01"[:10])
        values |= {"acquired_on": first, "acquired_within": _WITHIN[len(said)]}
    elif "acquired_on" in after:
        values |= {"acquired_on": None, "acquired_within": Horn.Within.DAY}
    if "room" in after or "shelf" in after:
        room = after.get("room", "")
        values["place"] = places[room.lower(), after.get("shelf", "").lower()] if room else None
    return values


_FIELDS: dict[str, Any] = {name: Horn._meta.get_field(name) for name in (*WRITTEN, "number")}
# Columns that an import fills or that follow from others; all the rest is empty in a horn nobody has touched.
_OTHERWISE = {
    *WRITTEN, "id", "school", "number", "place", "label_code", "created", "created_by", "number_stem", "number_tail",
    "place_order", "search", "acquired_within",
}  # fmt: skip
_NULLABLE = {"price", "value"}


STRUCK_OUT = _s_lazy("The horn of this number was struck out. It stays used.")


class Horns:
    key = "horns"
    columns = COLUMNS
    hint = _s_lazy("What a horn is counts as a hint only: four checks at the horn itself tell what it really is.")

    def check(self, rows: Sequence[Row], read: Reading, values: Sequence[Values], seen: Mapping[str, int]) -> Seen:
        met: Seen = {}
        wanted = [value["number"].upper() for value in values if "number" in value]
        there = {horn.number.upper(): horn for horn in numbered(read.school, wanted).select_related("place")}
        former = set(
            FormerNumber.objects.filter(school=read.school)
            .annotate(same=Upper("number"))
            .filter(same__in=wanted)
            .values_list("same", flat=True)
        )
        for row, value in zip(rows, values, strict=True):
            number = value.get("number", "").upper()
            earlier = seen.get(number) or met.get(number)
            if number and earlier:
                refuse(row, "Register number", value["number"], _s("Row %(row)s has this number too."), row=earlier)
            elif number:
                met[number] = row["line"]
            if number in there and there[number].struck_out:
                refuse(row, "Register number", value["number"], STRUCK_OUT)
            if number in former and number not in there:
                refuse(row, "Register number", value["number"], TAKEN)
            a_sum(row, "Register number", value.get("number", ""), NO_HORN)
            if value.get("shelf") and not value.get("room"):
                leave_empty(row, "Shelf", value.pop("shelf"), _s("Say in which room this shelf is."))
            if row["wrong"]:
                judge(row, REFUSED)
            elif number in there:
                self._compare(row, value, there[number])
            else:
                judge(row, NEW, after=value)
        return met

    @staticmethod
    def _compare(row: Row, value: Values, horn: Horn) -> None:
        kept = _as_kept(horn)
        if horn.build:
            # Somebody has found out what it is; an old list's words add nothing to that.
            value.pop("described_as", None)
        if "acquired_on" in value and kept["acquired_on"].startswith(value["acquired_on"]):
            # A year alone, or a month, adds nothing to the day that is known.
            del value["acquired_on"]
        if "room" in value and value["room"].lower() != kept["room"].lower():
            value.setdefault("shelf", "")
        after = {name: text for name, text in value.items() if name != "number" and _differ(name, text, kept[name])}
        if "room" in after or "shelf" in after:
            after = {"room": kept["room"], "shelf": kept["shelf"], **after}
        before = {name: kept[name] for name in after}
        judge(row, CHANGED if after else SAME, key=horn.pk, before=before, after=after)

    def write(self, rows: Sequence[Row], *, school: School, by: User, at: datetime) -> dict[str, Any]:
        new = [row for row in rows if row["verdict"] == NEW]
        changed = [row for row in rows if row["verdict"] == CHANGED]
        numbers = [row["after"]["number"].upper() for row in new]
        former = FormerNumber.objects.filter(school=school).annotate(same=Upper("number"))
        if numbered(school, numbers).exists() or former.filter(same__in=numbers).exists():
            raise Stale
        horns = _as_before(changed, school)
        wanted = {(r["after"]["room"], r["after"].get("shelf", "")) for r in rows if r["after"].get("room")}
        places, made = many.places_for(school, sorted(wanted))
        registered = many.register_many(
            school=school, particulars=[_to_columns(row["after"], places) for row in new], by=by, at=at
        )
        for row, horn in zip(new, registered, strict=True):
            row["key"] = horn.pk
        amend_many({horns[row["key"]]: _to_columns(row["after"], places) for row in changed})
        return {"places": made}

    def undo(self, rows: Sequence[Row], made: Mapping[str, Any], *, school: School) -> None:
        new = {row["key"]: row for row in rows if row["verdict"] == NEW}
        changed = [row for row in rows if row["verdict"] == CHANGED]
        # Held, so that nothing comes to happen to them between the looking and the removing.
        held = Horn.objects.at(school).select_for_update(of=("self",)).order_by("pk")
        there = held.select_related("place").in_bulk(list(new))
        for key, row in new.items():
            horn = there.get(key)
            kept = _as_kept(horn) if horn else {}
            moved = horn is None or not is_untouched(horn, _OTHERWISE)
            # What the row left empty was empty in the new horn, and must be so still.
            if moved or any(_differ(name, text, row["after"].get(name, "")) for name, text in kept.items()):
                raise changed_since(row["after"]["number"])
        if happened := what_points_to(Horn, new):
            raise Refused(
                _s("Something hangs on one of the new horns by now (%(happened)s), so the import cannot be undone.")
                % {"happened": happened}
            )
        try:
            horns = _as_before([{**row, "before": row["after"]} for row in changed], school)
        except Stale as since:
            raise Refused(_s("A horn was changed since, so the import cannot be undone.")) from since
        before = [row["before"] for row in changed]
        wanted = {(one["room"], one.get("shelf", "")) for one in before if one.get("room")}
        places, _ = many.places_for(school, sorted(wanted))
        amend_many({horns[row["key"]]: _to_columns(row["before"], places) for row in changed})
        many.remove_unused(list(new))
        many.take_back_places(made.get("places", []))


def _differ(name: str, one: str, other: str) -> bool:
    """Whether two texts differ; a place is the same whatever its capitals."""
    return one.lower() != other.lower() if name in {"room", "shelf"} else one != other


def _as_before(rows: Sequence[Row], school: School) -> dict[int, Horn]:
    """The horns of changed rows, held until the transaction ends, as long as they are as they were looked over."""
    keys = [row["key"] for row in rows]
    if not keys:
        return {}
    held = Horn.objects.at(school).select_for_update(of=("self",), no_key=True).order_by("pk")
    found = held.select_related("place").in_bulk(keys)
    for row in rows:
        horn = found.get(row["key"])
        kept = _as_kept(horn) if horn else {}
        if horn is None or any(_differ(name, text, kept[name]) for name, text in row["before"].items()):
            raise Stale
    return found


HORNS = Horns()
