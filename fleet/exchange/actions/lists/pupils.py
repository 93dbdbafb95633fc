"""A list of pupils, each with up to two guardians. The school's own id tells who a row is about, else the name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.translation import gettext as _s

from fleet.exchange.actions.lists.base import (
    CHANGED,
    NEW,
    NO_PUPIL,
    REFUSED,
    SAME,
    Seen,
    Stale,
    a_sum,
    changed_since,
    is_untouched,
    judge,
    leave_empty,
    refuse,
)
from fleet.exchange.actions.lists.names import whole_name
from fleet.exchange.actions.lists.pupil_columns import COLUMNS, FIRST, SECOND
from fleet.exchange.reading.columns import Reading, Row, Values
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.refusal import Refused
from fleet.lending.actions.pupils import amend_many, hold_horns_of
from fleet.people.actions import many
from fleet.people.models import Guardian, Opening, Pupil, School, User
from fleet.people.models.families import NO_CONTACT
from fleet.record.queries.pointing import what_points_to

WRITTEN = ("name", "family_name", "year", "group", "pupil_id", "left_on")
_FIELDS: dict[str, Any] = {name: Pupil._meta.get_field(name) for name in WRITTEN}


def _as_kept(pupil: Pupil) -> Values:
    return {name: "" if (value := getattr(pupil, name)) is None else str(value) for name in WRITTEN}


def _to_columns(after: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: _FIELDS[name].to_python(after[name] or None if name == "left_on" else after[name])
        for name in WRITTEN
        if name in after
    }


def _adults(row: Row, value: Values) -> list[list[str]]:
    """The row's guardians as (name, e-mail, telephone, language). Who is not named or cannot be reached is left out."""
    found = []
    for of in (FIRST, SECOND):
        name, address, number, language = (value.pop(one, "") for one in of)
        if name and not (address or number):
            leave_empty(row, "Guardian", name, NO_CONTACT)
        elif name and (address or number):
            found.append([name, address, number, language])
        elif address or number:
            leave_empty(row, "Guardian", address or number, _s("Say whose contact this is."))
    return found


def _names_nobody(row: Row, value: Values) -> bool:
    """Whether nothing in the row is about a pupil: of a list of horns, one that nobody has."""
    return not (value or row["noted"] or any(said for _, said, *_ in row["wrong"]))


class Pupils:
    key = "pupils"
    columns = COLUMNS
    hint = _s_lazy("Keep what a loan needs: no birth dates, no addresses, no health.")

    def check(self, rows: Sequence[Row], read: Reading, values: Sequence[Values], seen: Mapping[str, int]) -> Seen:
        met: Seen = {}
        nobody = {row["line"] for row, value in zip(rows, values, strict=True) if _names_nobody(row, value)}
        for row, value in zip(rows, values, strict=True):
            family = whole_name(row, value)
            # The last word of a name is its family name without being said.
            if " " in family:
                value["family_name"] = family
        by_id, by_name = pupils_on_record(read.school, values)
        adults = [_adults(row, value) for row, value in zip(rows, values, strict=True)]
        mails = {adult[1] for found in adults for adult in found if adult[1]}
        known = many.guardians_by_mail(read.school, mails)
        pupils = {p.pk for found in by_name.values() for p in found} | {p.pk for p in by_id.values()}
        ties = _answering(pupils)
        for row, value, found in zip(rows, values, adults, strict=True):
            if row["line"] in nobody:
                row["wrong"] = []
                judge(row, SAME)
                continue
            name, own = value.get("name", ""), value.get("pupil_id", "")
            a_sum(row, "Name", name, NO_PUPIL)
            if name.isdigit():
                refuse(row, "Name", name, _s("This is a number, not a name."))
            self._met_before(row, name, own, seen, met)
            same = by_name.get(name.casefold(), [])
            # A pupil without an id on record is met by name, and gets the id the list gives.
            candidates = [by_id[own]] if own in by_id else [p for p in same if not (own and p.pupil_id)]
            if len(candidates) > 1:
                refuse(row, "Name", name, _s("Several pupils on record have this name. Give the pupil id."))
            elif candidates:
                twice = f"key {candidates[0].pk}"
                if not row["wrong"] and (earlier := seen.get(twice) or met.get(twice)):
                    refuse(row, "Name", name, _s("Row %(row)s is about this pupil too."), row=earlier)
                met.setdefault(twice, row["line"])
            if row["wrong"]:
                judge(row, REFUSED)
            elif not candidates:
                judge(row, NEW, after={**value, "adults": found})
            else:
                self._compare(row, value, found, candidates[0], known, ties.get(candidates[0].pk, set()))
        return met

    @staticmethod
    def _met_before(row: Row, name: str, own: str, seen: Mapping[str, int], met: Seen) -> None:
        """Refuses a second row about one pupil. Two of one name can be told apart where both have an id."""
        folded = name.casefold()
        marks = [f"id {own}", f"name {folded}"] if own else [f"name {folded}", f"name with id {folded}"]
        earlier = [line for mark in marks if (line := seen.get(mark) or met.get(mark))]
        if name and earlier:
            if own and (seen.get(marks[0]) or met.get(marks[0])):
                refuse(row, "Pupil id", own, _s("Row %(row)s has this id too."), row=earlier[0])
            else:
                sentence = _s("Row %(row)s has this name too. Two pupils need the school’s own id each.")
                refuse(row, "Name", name, sentence, row=earlier[0])
        elif name:
            met[marks[0]] = row["line"]
            if own:
                met.setdefault(f"name with id {folded}", row["line"])

    @staticmethod
    def _compare(
        row: Row,
        value: Values,
        adults: list[list[str]],
        pupil: Pupil,
        known: Mapping[str, Guardian],
        ties: set[tuple[str, str, str, str]],
    ) -> None:
        kept = _as_kept(pupil)
        after: dict[str, Any] = {name: text for name, text in value.items() if text != kept[name]}
        fresh = [
            adult
            for adult in adults
            if not any(
                # Of somebody on record a number or language is only filled in.
                adult[1] == mail and (number or not adult[2]) and (language or not adult[3])
                if adult[1]
                else (adult[0], adult[2]) == (name, number)
                for name, mail, number, language in ties
            )
        ]
        before: dict[str, Any] = {name: kept[name] for name in after}
        if fresh:
            after["adults"] = fresh
        judge(row, CHANGED if after else SAME, key=pupil.pk, before=before, after=after)

    def write(self, rows: Sequence[Row], *, school: School, by: User, at: datetime) -> dict[str, Any]:
        new = [row for row in rows if row["verdict"] == NEW]
        changed = [row for row in rows if row["verdict"] == CHANGED]
        by_id, by_name = pupils_on_record(school, [row["after"] for row in new])
        for row in new:
            own, same = row["after"].get("pupil_id"), by_name.get(row["after"]["name"].casefold(), [])
            if own in by_id or any(not (own and pupil.pupil_id) for pupil in same):
                raise Stale
        pupils = _as_before(changed, school)
        enrolled = many.enrol_many(school=school, pupils=[_to_columns(row["after"]) for row in new])
        for row, pupil in zip(new, enrolled, strict=True):
            row["key"] = pupil.pk
        amend_many({pupils[row["key"]]: _to_columns(row["after"]) for row in changed})
        # What was looked at before languages were read names none.
        adults = [(row["key"], *adult, "")[:5] for row in rows for adult in row["after"].get("adults", ())]
        return _take_in(school, adults, at)

    def undo(self, rows: Sequence[Row], made: Mapping[str, Any], *, school: School) -> None:
        new = [row for row in rows if row["verdict"] == NEW]
        changed = [row for row in rows if row["verdict"] == CHANGED]
        hold_horns_of([row["key"] for row in (*new, *changed)])
        there = Pupil.objects.at(school).select_for_update().order_by("pk").in_bulk([row["key"] for row in new])
        for row in new:
            pupil = there.get(row["key"])
            moved = pupil is None or not is_untouched(pupil, {*WRITTEN, *Pupil.DERIVED, "id", "school"})
            kept = _as_kept(pupil) if pupil else {}
            if moved or any(text != row["after"].get(name, "") for name, text in kept.items()):
                raise changed_since(row["after"]["name"])
        # Having looked at somebody's page is no reason to keep their name.
        if happened := what_points_to(Pupil, there, besides={Opening}):
            raise Refused(
                _s("Something hangs on one of the new pupils by now (%(happened)s), so the import cannot be undone.")
                % {"happened": happened}
            )
        try:
            pupils = _as_before([{**row, "before": row["after"]} for row in changed], school)
        except Stale as trouble:
            raise Refused(_s("A pupil was changed since, so the import cannot be undone.")) from trouble
        many.untie(made.get("ties", []))
        many.take_back("telephone", made.get("numbers", {}))
        many.take_back("language", made.get("languages", {}))
        amend_many({pupils[row["key"]]: _to_columns(row["before"]) for row in changed})
        Pupil.objects.filter(pk__in=list(there)).delete()
        many.remove_unused(guardians=made.get("guardians", []), accounts=made.get("accounts", []))


def _take_in(school: School, adults: Sequence[tuple[int, str, str, str, str]], at: datetime) -> dict[str, Any]:
    """Guardians of (pupil, name, e-mail, telephone, language) put on record where they are not, and tied to their
    pupils; those of whom no number or no language is on record get theirs."""
    named = {mail: name for _, name, mail, *_ in adults if mail}
    numbers = {mail: number for _, _, mail, number, _ in adults if mail and number}
    spoken = {mail or (name, number): language for _, name, mail, number, language in adults if language}
    known = many.guardians_by_mail(school, named)
    filled, speaking = many.fill("telephone", known, numbers), many.fill("language", known, spoken)
    called_only = dict.fromkeys((name, number) for _, name, mail, number, _ in adults if not mail)
    fresh = [(name, "", number, spoken.get((name, number), "")) for name, number in called_only]
    mailed = [
        (name, mail, numbers.get(mail, ""), spoken.get(mail, "")) for mail, name in named.items() if mail not in known
    ]
    accounts, new_accounts = many.accounts_for({mail: name for name, mail, *_ in mailed})
    made = many.guardians_made(school=school, guardians=[*mailed, *fresh], accounts=accounts)
    known |= {guardian.email: guardian for guardian in made if guardian.email}
    called = {(guardian.name, guardian.telephone): guardian for guardian in made if not guardian.email}
    pairs = [(pupil, (known[mail] if mail else called[name, number]).pk) for pupil, name, mail, number, _ in adults]
    return {
        "guardians": [guardian.pk for guardian in made],
        "accounts": new_accounts,
        "ties": many.tie(pairs, at=at),
        "numbers": filled,
        "languages": speaking,
    }


def pupils_on_record(
    school: School, values: Sequence[Mapping[str, Any]]
) -> tuple[dict[str, Pupil], dict[str, list[Pupil]]]:
    """Pupils on record by id and by name, as far as the rows mention them."""
    ids = [value["pupil_id"] for value in values if value.get("pupil_id")]
    names = [value["name"] for value in values if value.get("name")]
    spelled = {*names, *(name.casefold() for name in names)}
    found = Pupil.objects.at(school).filter(struck_out="").annotate(small=Lower("name"))
    pupils = found.filter(Q(pupil_id__in=ids) | Q(name__in=names) | Q(small__in=spelled))
    by_name: dict[str, list[Pupil]] = {}
    by_id: dict[str, Pupil] = {}
    for pupil in pupils:
        by_name.setdefault(pupil.name.casefold(), []).append(pupil)
        if pupil.pupil_id:
            by_id[pupil.pupil_id] = pupil
    return by_id, by_name


def _answering(pupils: set[int]) -> dict[int, set[tuple[str, str, str, str]]]:
    """Who answers for each pupil, as (name, e-mail, telephone, language)."""
    ties: dict[int, set[tuple[str, str, str, str]]] = {}
    found = Pupil.guardians.through.objects.filter(pupil_id__in=pupils)
    for pupil, name, mail, number, language in found.values_list(
        "pupil_id", "guardian__name", "guardian__email", "guardian__telephone", "guardian__language"
    ):
        ties.setdefault(pupil, set()).add((name, mail.lower(), number, language))
    return ties


def _as_before(rows: Sequence[Row], school: School) -> dict[int, Pupil]:
    hold_horns_of([row["key"] for row in rows])
    found = Pupil.objects.at(school).select_for_update().order_by("pk").in_bulk([row["key"] for row in rows])
    for row in rows:
        pupil = found.get(row["key"])
        kept = _as_kept(pupil) if pupil else {}
        if pupil is None or any(kept[name] != text for name, text in row["before"].items() if name in kept):
            raise Stale
    return found


PUPILS = Pupils()
