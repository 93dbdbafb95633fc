"""The state of a walk, which is its address: what was answered, what comes next, and the ways there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from urllib.parse import urlencode

from django.http import QueryDict
from django.utils.translation import gettext as _s

from identify.asked import DECIDE, PARTS, Question
from identify.core.hearing.kept_notes import DOWN, FIELDS, STEP, TEST, TEST_THUMB, UP, KeptNotes
from identify.core.horns.speech import within
from identify.core.reasoning.evidence import AGAIN, CHECKS, LIKE, Observations, heard_in, read_observations
from identify.core.reasoning.verdict import Verdict, usual_next
from identify.questions import BY_EAR, CANT_TELL, QUESTIONS
from identify.words import notes_in_words

RESULT = "result"
# A second look is asked for at a step by LOOK; its form hands on the answer given FIRST, which the page does not show.
LOOK, FIRST = "look", "first"
# Of a horn that is like the one before so many checks are asked for before the page says what they amount to.
LIKE_CHECKS = 2


@dataclass(frozen=True, slots=True)
class HornInHand:
    """The registered horn that a walk is about: its number, and what the register takes it for, to be read."""

    number: str
    words: str


@dataclass(frozen=True, slots=True)
class OneBefore:
    """The horn that was identified before this one: its build's code, and what it is and how it stands, in words."""

    build: str
    words: str


# Where a note heard on the page of a check is kept.
HEARD_ON = {"test_note": TEST, "test_note_thumb": TEST_THUMB, "step_down": STEP}


@dataclass(frozen=True)
class Walk:
    """What an address says: observations, a sentence for each bad one, the step wanted, the horn.

    `unread` are sentences about notes heard that the address holds in a form nobody can read. `blind` says that the
    step wanted is a second look, at which nothing may tell what was answered first.
    """

    observations: Observations
    problems: dict[str, str]
    wanted: str = ""
    horn: str = ""
    unread: tuple[str, ...] = ()
    blind: bool = False

    @property
    def notes(self) -> KeptNotes:
        """The notes heard so far."""
        return self.observations.heard.notes if self.observations.heard else KeptNotes({})

    def with_notes(self, notes: KeptNotes) -> Walk:
        """The same walk with other notes heard."""
        return replace(self, observations=replace(self.observations, heard=heard_in(notes)))

    def pairs(self, leave_out: Iterable[str] = ()) -> list[tuple[str, str]]:
        """What the address carries on, as names and values; what made no sense is dropped.

        A check left out is no longer marked as looked at twice: who changes an answer has seen it.
        """
        left_out = set(leave_out)
        twice = self.observations.again - left_out
        answers, passed = self.observations.answers, self.observations.passed
        kept = [
            (key, answers.get(key, CANT_TELL))
            for key in CHECKS
            if (key in answers or key in passed) and key not in left_out
        ]
        again = ",".join(key for key in CHECKS if key in twice)
        kept += self.notes.texts().items()
        more = ((AGAIN, again), (LIKE, self.observations.like), ("horn", self.horn))
        return kept + [(name, value) for name, value in more if value]

    def like(self, code: str) -> Walk:
        """The same walk of a horn that is said to be like one of this build."""
        return replace(self, observations=replace(self.observations, like=code))

    def carried(self, key: str) -> list[tuple[str, str]]:
        """What the form of a check carries on beside its answer."""
        first = [(FIRST, f"{key}:{self.answer(key)}")] if self.blind and self.answer(key) else []
        return self.pairs(leave_out=[key]) + first

    @cached_property
    def _query(self) -> str:
        return urlencode(self.pairs())

    def address(self, step: str = "") -> str:
        """The query of this walk at a step; without one, wherever it goes on."""
        return "?" + "&".join(filter(None, (self._query, step and f"step={step}")))

    def second_look(self, key: str) -> str:
        """The query that asks a check anew because it is in doubt."""
        return f"{self.address(key)}&{LOOK}={AGAIN}"

    def step(self, verdict: Verdict) -> str | None:
        """The check to show now, or None for the result; what made no sense is asked again first."""
        if self.problems:
            return self.wanted if self.wanted in self.problems else next(iter(self.problems))
        if self.wanted == RESULT:
            return None
        told = self.observations.like and len(self.observations.asked) >= LIKE_CHECKS
        return self.wanted or (None if told else usual_next(verdict))

    def before(self, key: str | None) -> str | None:
        """The last check asked before this one, or before the result; None where the walk begins."""
        order = list(QUESTIONS)
        earlier = order[: order.index(key)] if key else order
        return next((one for one in reversed(earlier) if one in self.observations.asked), None)

    def answer(self, key: str) -> str:
        """The answer given to a check: its value, `cant-tell`, or nothing."""
        if key in self.observations.passed:
            return CANT_TELL
        return self.observations.answers.get(key, "")

    def progress(self, now: str | None) -> list[dict[str, str]]:
        """The steps of the walk for the page: the four checks, deciding where there is something, the
        result.
        """
        rows = []
        for part in PARTS:
            keys = [key for key, question in QUESTIONS.items() if question.part is part]
            asked = [key for key in keys if key in self.observations.asked]
            here = now in keys
            if part is DECIDE and not asked and not here:
                continue
            state = "here" if here else "done" if asked else ""
            rows.append({"label": str(part), "state": state, "address": self.address(keys[0]) if asked else ""})
        rows.append({"label": _s("Result"), "state": "" if now else "here", "address": ""})
        return rows

    def kept_as(self, number: str = "") -> str:
        """What a list calls it that keeps it: the number of its horn, where that is known, and the answers so far."""
        given = self.observations.answers
        asked = (one.of_horn(self.answer("valves")) for key, one in QUESTIONS.items() if key in given)
        so_far = "; ".join(f"{within(one.short)} {one.words_of(given[one.key])}" for one in asked)
        if number:
            named = _s("Identify %(number)s: %(so_far)s") if so_far else _s("Identify %(number)s")
        else:
            named = _s("Identify a horn: %(so_far)s") if so_far else _s("Identify a horn")
        return named % {"number": number, "so_far": so_far}

    def observed(self) -> list[tuple[Question, str, str]]:
        """Every check that was asked: its question, the answer in words, and where it is asked again."""
        rows = []
        valves = self.answer("valves")
        for key, question in ((key, one.of_horn(valves)) for key, one in QUESTIONS.items()):
            if key in self.observations.asked:
                given = self.observations.answers.get(key)
                words = _s("can’t tell") if given is None else question.words_of(given)
                if key in HEARD_ON and (heard := self.notes[HEARD_ON[key]]):
                    words = _s("%(answer)s (heard %(notes)s)") % {"answer": words, "notes": notes_in_words(heard)}
                rows.append((question, words, self.address(key)))
        for side, question in ((UP, BY_EAR[UP]), (DOWN, BY_EAR[DOWN])):
            if self.notes[side]:
                # The page that listens lies below the walk's.
                rows.append(
                    (question.of_horn(valves), notes_in_words(self.notes[side]), f"listen/{self.address(side)}")
                )
        return rows


def read_walk(query: QueryDict) -> Walk:
    """A walk out of an address. Never fails: what makes no sense is a sentence beside its question."""
    given: dict[str, str] = {}
    twice: dict[str, str] = {}
    for key in CHECKS:
        answers = list(dict.fromkeys(query.getlist(key)))
        if len(answers) > 1:
            shown = _s(" and ").join(repr(answer[:20]) for answer in answers[:2])
            said = _s("%(check)s: the address answers this more than once, %(answers)s. Which is right?")
            twice[key] = said % {"check": QUESTIONS[key].short, "answers": shown}
        elif answers:
            given[key] = answers[0]
    heard = {field: query.get(field) for field in FIELDS}
    observations, problems = read_observations({**given, **heard, AGAIN: query.get(AGAIN), LIKE: query.get(LIKE)})
    problems |= twice
    key, _, first = query.get(FIRST, "").partition(":")
    if key in observations.answers and observations.answers[key] == first:
        observations = observations.looked_again(key, first)
    wanted = query.get("step", "")
    horn = query.get("horn", "")
    return Walk(
        observations=observations,
        problems={key: problems[key] for key in QUESTIONS if key in problems},
        wanted=wanted if wanted == RESULT or wanted in QUESTIONS else "",
        horn=horn if horn.isascii() and horn.isdigit() and len(horn) < 19 else "",
        unread=tuple(problems[field] for field in FIELDS if field in problems),
        blind=wanted in observations.asked and query.get(LOOK) == AGAIN,
    )
