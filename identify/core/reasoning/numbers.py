"""Numbers, intervals and fingerings as they are spoken."""

from identify.core.horns.speech import _s

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
ORDINALS = {1: "1st", 2: "2nd", 3: "3rd"}
ONES = {
    "valve": "one valve",
    "finger valve": "one finger valve",
    "set": "one set of valve slides",
    "semitone": "one semitone",
}
MANY = {
    "valve": "%(number)s valves",
    "finger valve": "%(number)s finger valves",
    "set": "%(number)s sets of valve slides",
    "semitone": "%(number)s semitones",
}
INTERVALS = (
    "no interval",
    "a semitone",
    "a tone",
    "a minor third",
    "a major third",
    "a fourth",
    "a tritone",
    "a fifth",
    "a minor sixth",
    "a major sixth",
    "a minor seventh",
    "a major seventh",
    "an octave",
)
FINGERS = {
    "0": "with no valve",
    "1": "with the first valve",
    "2": "with the second valve",
    "12": "with the first and second valves (or the third)",
    "23": "with the second and third valves",
    "13": "with the first and third valves",
    "123": "with all three valves",
}


def counted(number: int, thing: str) -> str:
    """Such as `three valves`, `one valve`, `no valves`."""
    if number == 1:
        return _s(ONES[thing])
    return _s(MANY[thing]) % {"number": _s(NUMBERS[number]) if 0 <= number < len(NUMBERS) else number}


def nth(number: int) -> str:
    """Such as `6th`; for partials, which end at 16."""
    if number in ORDINALS:
        return _s(ORDINALS[number])
    return _s("%(number)sth") % {"number": number}


def interval(semitones: int) -> str:
    """The name of an interval, such as `a fourth` for 5 semitones.

    Beyond an octave the semitones are counted.
    """
    if 0 <= semitones < len(INTERVALS):
        return _s(INTERVALS[semitones])
    return counted(semitones, "semitone")


def lowering(semitones: int) -> str:
    """How far valves lower a tube, such as `lowered a tone`."""
    if semitones < 0:
        return _s("raised %(interval)s") % {"interval": interval(-semitones)}
    return _s("lowered %(interval)s") % {"interval": interval(semitones)}


def fingered(fingering: str) -> str:
    """A fingering in words, such as `open` or `with the first valve`."""
    words = {"0": _s("open"), "none": _s("with no fingering")}
    if fingering in words:
        return words[fingering]
    return with_fingers(fingering) if fingering in FINGERS else _s("with %(fingering)s") % {"fingering": fingering}


def with_fingers(fingering: str) -> str:
    """The same of a fingering of three valves: `with no valve`."""
    return _s(FINGERS[fingering])


def percent(chance: float) -> str:
    """A chance as it is honest to say it: never quite certain, never quite nothing."""
    if chance >= 0.995:
        return _s("over %(chance)s") % {"chance": "99 %"}
    if chance < 0.01:
        return _s("under %(chance)s") % {"chance": "1 %"}
    return f"{100 * chance:.0f} %"


def between(least: float, most: float) -> str:
    """A chance of which only the bounds are known, such as `79 to 98 %`."""
    if percent(least) == percent(most):
        return percent(least)
    if most >= 0.995:
        return _s("at least %(chance)s") % {"chance": percent(least)}
    if least < 0.01:
        return _s("at most %(chance)s") % {"chance": percent(most)}
    return _s("%(least)s to %(most)s") % {"least": f"{100 * least:.0f}", "most": percent(most)}
