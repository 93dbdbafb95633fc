"""What a verdict amounts to, in sentences.

The finding, what it is not, the runner-up, what to look at again and next.
"""

from collections.abc import Iterable

from identify.core.horns.broken import State
from identify.core.horns.builds import Build
from identify.core.horns.catalogue import catalogue
from identify.core.horns.pitch import TEST_NOTE
from identify.core.horns.speech import _s, capital
from identify.core.reasoning.assumed import ESTIMATE_WORTH
from identify.core.reasoning.evidence import CHECKS, Observations
from identify.core.reasoning.numbers import between, counted, percent
from identify.core.reasoning.ranking import Candidate
from identify.core.reasoning.reasons import Testimony, reasons
from identify.core.reasoning.verdict import Verdict

# More things that may be wrong than this are not named in one breath.
MOST_NAMED = 2

_NEXT = {
    "valves": "Count the valves, the one behind the thumb lever too.",
    "slide_sets": "Count the sets of valve slides: how many slides belong to each finger valve?",
    "test_note": f"With the thumb up, sound the test note {TEST_NOTE.letters}: which valves give it?",
    "test_note_thumb": f"Hold the thumb lever down and sound {TEST_NOTE.letters}: which valves give it?",
    "hand": "See which hand works the valves.",
    "mechanism": "See what moves when a valve is pressed: a rotor that turns, or a piston that goes down.",
    "bell": "Hold it as it is played: where does the bell point?",
    "wrap": "Look at the shape of the whole horn.",
    "crook": "Look where the mouthpiece goes in: does a piece of tube come off there, so that another fits?",
    "step_down": "From the test note, slur down with the same fingering and name the interval.",
    "second_set": "Compare the slides of the second set with those of the first.",
    "shared_row": "Pull a slide of the longer row, press its valve and blow, thumb up and down: where is air lost?",
    "length": "Measure how long it is from the plane of the bell to the far bow.",
    "width": "Measure how wide the bell is across its mouth, from rim to rim.",
    "each_finger": "Hold a note and press one finger after another: does each lower it?",
    "thumb": "Hold a note and press the thumb lever: what happens to the pitch?",
}


def named(candidate: Candidate) -> str:
    """A candidate in words: what it is called, how it stands and what is wrong with it."""
    build = candidate.build
    words = _s(build.name)
    if candidate.stand is not None and stands_one_way(candidate):
        words = _s("%(kind)s, standing in %(key)s") % {"kind": words, "key": _s(candidate.stand.words)}
    if not candidate.states:
        return words
    wrong = _s(" or ").join(state.words for state in candidate.states)
    if len(candidate.states) > MOST_NAMED:
        wrong = _s("that is out of order")
    return (_s("%(horn)s, %(wrong)s") if stands_one_way(candidate) else _s("%(horn)s %(wrong)s")) % {
        "horn": words,
        "wrong": wrong,
    }


def stands_one_way(candidate: Candidate) -> bool:
    """Whether its name says how it stands, since it may stand otherwise."""
    return candidate.stand is not None and candidate.build.reversible


def begins_with_a_vowel(build: Build) -> bool:
    """In English, which then says "an"."""
    return build.name[0] in "aeiou"


def one_of(candidate: Candidate) -> str:
    """The same with its article."""
    words = _s("an %(horn)s") if begins_with_a_vowel(candidate.build) else _s("a %(horn)s")
    return words % {"horn": named(candidate)}


def headline(verdict: Verdict) -> str:
    """The finding in one sentence."""
    leading = verdict.leading
    if verdict.nothing_observed:
        return _s("Nothing has been observed yet; what follows is only what is common in schools.")
    if verdict.settled:
        return _s("This is %(horn)s.") % {"horn": one_of(leading)}
    if verdict.impossible_counts:
        answers = verdict.observations.answers
        valves, sets = counted(int(answers["valves"]), "valve"), counted(int(answers["slide_sets"]), "set")
        return _s("No kind we know has %(valves)s and %(sets)s: count both again.") % {"valves": valves, "sets": sets}
    if verdict.clash:
        return _s("No kind we know fits everything that was observed.")
    if verdict.twins:
        horns = _s(" or ").join(one_of(one) for one in (leading, *verdict.twins))
        return _s("This is either of these, which no check tells apart: %(horns)s.") % {"horns": horns}
    said = {"horn": one_of(leading), "chance": between(leading.least, leading.most)}
    if verdict.likely:
        return _s("This is likely %(horn)s (%(chance)s), but not settled yet.") % said
    if leading.probability >= 0.5:
        return _s("This is most likely %(horn)s (%(chance)s), but that is not settled.") % said
    return _s("Several horns are still possible.")


def what_it_is_not(candidate: Candidate) -> str:
    """For what is no French horn, one sentence that says so; empty for French horns."""
    build = candidate.build
    if build.is_french_horn:
        return ""
    kind = _s(build.name)
    if build.family == "wagner":
        return _s("The %(kind)s is played by horn players, but is no French horn.") % {"kind": kind}
    if build.mouthpiece == "horn":
        if like := _fingered_as(build):
            return _s(
                "The %(kind)s is no French horn, but made for horn players: a horn mouthpiece fits, and the fingerings "
                "are those of a %(like)s."
            ) % {"kind": kind, "like": _s(like.name)}
        said = _s("The %(kind)s is no French horn, but made for horn players: a horn mouthpiece fits.")
        return said % {"kind": kind}
    said = _s("The %(kind)s is no French horn: a horn pupil’s fingerings and mouthpiece do not belong to it.")
    return said % {"kind": kind}


def _fingered_as(build: Build) -> Build | None:
    """The French horn a horn player knows it by, the usual one first: the same tubes, valves and part."""

    def played(one: Build) -> tuple[object, ...]:
        return one.sides, one.stands, one.valves, one.levers, one.reads

    horns = (one for one in catalogue().values() if one.is_french_horn and played(one) == played(build))
    return max(horns, key=lambda one: one.prior, default=None)


def certainty(candidate: Candidate) -> str:
    """How far our own description of the build can be trusted, said only where it is not sure."""
    return {
        "sure": "",
        "good": _s("Our description of this build is good, but not confirmed in every point."),
        "from memory": _s("We know this build from memory only: let a repairer confirm it."),
    }[candidate.build.certainty]


def against_runner_up(verdict: Verdict) -> tuple[Testimony, ...]:
    """What speaks against the second likeliest candidate: its reasons that are against it."""
    return tuple(reason for reason in reasons(verdict.runner_up, verdict.observations) if not reason.speaks_for)


def doubts(verdict: Verdict) -> tuple[str, ...]:
    """Which observations to look at again, and what would be thought without them; one sentence each."""
    sentences = []
    for doubt in verdict.doubts:
        said = {"checks": _named_checks(doubt.keys), "horn": one_of(doubt.then[0])}
        if len(doubt.keys) == 1 and doubt.then_settled:
            words = _s("Look again at %(checks)s: without that answer, this horn would be %(horn)s.")
        elif len(doubt.keys) == 1:
            words = _s("Look again at %(checks)s: without that answer, this horn would most likely be %(horn)s.")
        elif doubt.then_settled:
            words = _s("Look again at %(checks)s: without those answers, this horn would be %(horn)s.")
        else:
            words = _s("Look again at %(checks)s: without those answers, this horn would most likely be %(horn)s.")
        sentences.append(words % said)
    if not sentences and verdict.doubt and not verdict.confirm:
        sentences.append(_s("Look again at %(checks)s.") % {"checks": _named_checks(verdict.doubt)})
    if verdict.perhaps is not None:
        sentences.append(_s("Or every answer is right, and this is %(horn)s.") % {"horn": one_of(verdict.perhaps)})
    if verdict.clash and not verdict.doubt:
        sentences.append(
            _s("All of that was looked at twice. Ask a repairer: it may be altered, or a build not known here.")
        )
    return tuple(sentences)


def _named_checks(keys: Iterable[str]) -> str:
    """The checks of these keys in words, to stand behind "look again at"."""
    return _s(" and ").join(named_check(key) for key in keys)


def named_check(key: str) -> str:
    """One of them: `the bell`, `where the bell points`."""
    words = CHECKS[key].words
    return _s(words) if words.startswith(("where ", "what ")) else _s("the %(check)s") % {"check": _s(words)}


def confirmations(verdict: Verdict) -> tuple[str, ...]:
    """Checks worth one more look before the verdict is relied on."""
    if verdict.clash:
        return ()
    sentences = []
    shown = [key for key in verdict.confirm if key in verdict.leading.shown_by]
    if shown:
        words = _s("Look once more at %(checks)s: that alone says that something is wrong with it.")
        sentences.append(words % {"checks": _named_checks(shown)})
    asked = [key for key in verdict.confirm if key not in shown]
    rivals = (one for one in verdict.candidates[1:] if one.fits or set(asked) <= set(one.against))
    rival = next(rivals, None)
    if asked and rival is not None:
        words = _s("Look once more at %(checks)s: %(horn)s would differ there.")
        sentences.append(words % {"checks": _named_checks(asked), "horn": one_of(rival)})
    return tuple(sentences)


def wrong_with(candidate: Candidate) -> tuple[str, ...]:
    """What may be wrong with a horn and what to look at, one sentence for each, the likeliest first."""
    return tuple(to_look_at(state) for state in candidate.states)


def to_look_at(state: State) -> str:
    """What may be wrong and what to look at."""
    return f"{capital(state.clause)}. {_s(state.wrong.look)}"


def next_step(verdict: Verdict) -> str:
    """What to do next, in one sentence; empty when nothing is left to do."""
    return _NEXT[verdict.next_check] if verdict.next_check else ""


def likeness(observations: Observations) -> str:
    """What it is said to be like, and what that counts for; empty where nothing was said."""
    if not observations.like:
        return ""
    return _s(
        "Said to be like the one before, a %(kind)s. That makes this kind likelier beforehand; only what is looked at "
        "on this one can settle it."
    ) % {"kind": _s(catalogue()[observations.like].name)}


def own_mix(verdict: Verdict) -> str:
    """How far the school's own confirmed horns were taken into account; empty where they were not."""
    mix = verdict.mix
    if not mix.share:
        return ""
    return _s(
        "Your %(horns)s confirmed horns count %(share)s towards what is thought common here; general experience "
        "counts as %(worth)s horns."
    ) % {"horns": mix.horns, "share": percent(mix.share), "worth": ESTIMATE_WORTH}
