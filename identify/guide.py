"""What the field guide tells of a build: all of it computed from its description, in the walk's own words."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from identify.asked import PARTS, Question, _s_lazy
from identify.core.horns.builds import Build, Stand, column_at_rest
from identify.core.horns.catalogue import catalogue
from identify.core.horns.pitch import A4_HZ
from identify.core.horns.speech import within
from identify.core.reasoning.apart import Apart, answers_of, makes_sense, taken_for
from identify.core.reasoning.evidence import CHECKS, MEASURED, NONE
from identify.core.reasoning.numbers import fingered
from identify.deciding import spans
from identify.playing import OnTube, on_tube
from identify.questions import QUESTIONS

# "child horn", a music school's page for parents, without a year: of the usual tube and key, smaller, from age 6.
_FROM_SIX = {"compact-f", "compact-bb"}
# What a build without a source says in its place.
NO_SOURCE = "from memory, not confirmed"
# By the key for an address, in the order of the guide.
_GROUPS = {
    "1": _s_lazy("French horns: one tube"),
    "2": _s_lazy("French horns: two tubes in one horn"),
    "3": _s_lazy("French horns: three tubes in one horn"),
    "0": _s_lazy("French horns without valves"),
    "wagner": _s_lazy("Wagner tubas"),
    "other": _s_lazy("No French horns"),
}


@dataclass(frozen=True, slots=True)
class Group:
    """Builds that look alike at first sight, the usual ones first; `key` is for an address."""

    key: str
    title: str
    builds: tuple[Build, ...]


@dataclass(frozen=True, slots=True)
class Said:
    """What one check says: `question`, and for each way the horn stands (or "") the answer in words."""

    question: Question
    answers: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class TakenFor:
    """A build one may take it for, the check that tells (None where none does), and both answers in words."""

    other: Build
    question: Question | None
    mine: str
    theirs: str


@lru_cache(maxsize=1)
def groups() -> tuple[Group, ...]:
    """Every build of the catalogue, in groups."""
    found: dict[str, list[Build]] = {key: [] for key in _GROUPS}
    for build in sorted(catalogue().values(), key=lambda build: -build.prior):
        found[_group(build)].append(build)
    return tuple(Group(key, _GROUPS[key], tuple(builds)) for key, builds in found.items())


def found(words: str) -> tuple[Group, ...]:
    """The groups with the builds whose name or description has words that begin so; groups without any are left out.

    Case is no matter, and `b` is read for `♭` too.
    """
    wanted = _plain(words)
    kept = (replace(group, builds=tuple(build for build in group.builds if _has(build, wanted))) for group in groups())
    return tuple(group for group in kept if group.builds)


def _has(build: Build, wanted: Iterable[str]) -> bool:
    said = [build.name, build.about, *(form.form_words for form in build.forms if form.form_words)]
    # In the reader's words and in English.
    told = _plain(" ".join([*said, *map(gettext, said)]))
    return all(any(one.startswith(word) for one in told) for word in wanted)


def _plain(words: str) -> list[str]:
    return re.findall(r"\w+", words.casefold().replace("♭", "b"))


def _group(build: Build) -> str:
    if build.family == "wagner":
        return "wagner"
    if not build.is_french_horn:
        return "other"
    return str(min(3, build.slide_sets)) if build.valves else "0"


def _words(key: str, answer: str, build: Build) -> str:
    said = QUESTIONS[key].of_horn(str(build.valve_count)).words_of(answer)
    if key == "step_down" and said == answer:
        return _s("%(number)s semitones") % {"number": answer}
    if key in ("test_note", "test_note_thumb") and build.valves:
        return _s("no fingering sounds the note") if answer == NONE else fingered(answer)
    return said


def _either(said: list[str]) -> str:
    return _s(" or ").join([*said[:1], *(within(words) for words in said[1:])])


def checks(build: Build) -> tuple[Said, ...]:
    """What each check that asks of something it has will say, in the walk's order."""
    told = []
    for part in PARTS:
        for key, question in QUESTIONS.items():
            if question.part is part and key in CHECKS and makes_sense(build, key):
                told.append(Said(_asked(key, build), _by_stand(build, key)))
    return tuple(one for one in told if one.answers)


def _asked(key: str, *builds: Build) -> Question:
    """The question as it is asked of these: where none has a thumb lever, that one is up need not be said."""
    question = QUESTIONS[key]
    if key == "test_note" and not any(makes_sense(build, "test_note_thumb") for build in builds):
        return replace(question, short=question.part)
    return question


def _by_stand(build: Build, key: str) -> tuple[tuple[str, str], ...]:
    """Stands that answer alike stand together; where all do, none is named."""
    stands: dict[tuple[str, ...], list[Stand]] = {}
    for stand in build.stands:
        if answers := answers_of(build, key, stand):
            stands.setdefault(answers, []).append(stand)
    return tuple(
        (
            "" if len(alike) == len(build.stands) else _in(build, alike),
            _either(spans(key, answers) if key in MEASURED else [_words(key, one, build) for one in answers]),
        )
        for answers, alike in stands.items()
    )


def _in(build: Build, stands: Iterable[Stand]) -> str:
    keys = gettext(", ").join(gettext(stand.words) for stand in stands)
    return (_s("crook in %(keys)s") if build.crooked else _s("stands in %(keys)s")) % {"keys": keys}


def sounds(build: Build, a4: float = A4_HZ) -> tuple[OnTube, ...]:
    """The test note in each stand, named where there are several, with the notes that one may hit instead, as the
    horn's part has them.
    """
    several = len(build.stands) > 1
    return tuple(
        on_tube(_in(build, [stand]) if several else "", column_at_rest(build, stand), a4, build.reads_in(stand))
        for stand in build.stands
    )


def confused(build: Build) -> tuple[TakenFor, ...]:
    """The builds it is most easily taken for, and the one check that tells."""
    return tuple(_taken(build, one) for one in taken_for(build))


def _taken(build: Build, one: Apart) -> TakenFor:
    if not one.check:
        return TakenFor(one.other, None, "", "")
    mine = _answer(one.check, one.mine, build, one.my_stand)
    theirs = _answer(one.check, one.theirs, one.other, one.their_stand)
    return TakenFor(one.other, _asked(one.check, build, one.other), mine, theirs)


def _answer(check: str, answer: str, build: Build, stand: Stand | None) -> str:
    """Within a sentence, with the stand it holds for where it does not hold for all."""
    said = within(_words(check, answer, build))
    return f"{said} ({_in(build, [stand])})" if stand else said


def who_can_hold(build: Build) -> tuple[str, ...]:
    """What is known of its size for a child, in sentences; the last one leaves it to the teacher."""
    said = []
    if build.wrap[0] == "compact" and build.valves:
        said.append(gettext("It is wound small, and its levers lie close together."))
    elif build.wrap[0] == "compact":
        said.append(gettext("It is wound small."))
    elif any("compact" in form.wrap for form in build.forms):
        said.append(gettext("Some are wound small, with their levers close together."))
    if build.code in _FROM_SIX:
        said.append(gettext("One music school gives such horns from age 6 on."))
    if build.slide_sets > 1:
        said.append(gettext("It carries more tube than a horn with one row of slides, so it is heavier."))
    if not said:
        said.append(gettext("We know no published size or weight."))
    return (*said, gettext("Let the child hold it: the teacher decides."))


def origins(build: Build) -> tuple[tuple[str, str], ...]:
    """Where what is said of a build comes from: claim and origin."""
    described = {
        "sure": _s("Sure."),
        "good": _s("Good, not confirmed in every point."),
        "from memory": _s("From memory."),
    }
    source = "" if build.source == NO_SOURCE else f" {build.source}."
    said = [
        (_s("Our description"), described[build.certainty] + source),
        (_s("What each check says"), _s("Computed from the description.")),
        (
            _s("How usual it is, how often people misread a check"),
            _s("Estimates from practice, no source."),
        ),
        (_s("Class of instrument"), _s("%(code)s. Hornbostel and Sachs, revised 2011.") % {"code": build.class_code}),
    ]
    if build.code in _FROM_SIX:
        said.append((_s("From age 6"), "Musikschule Werra-Meißner, “Blechblasinstrumente”."))
    return tuple(said)
