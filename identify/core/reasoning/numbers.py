"""Numbers, intervals and fingerings as they are spoken, and how words begin a sentence."""

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_ORDINALS = {1: "1st", 2: "2nd", 3: "3rd"}
_INTERVALS = (
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


def capital(words: str) -> str:
    """Words as a sentence begins with them; the rest stays as it is."""
    return words[:1].upper() + words[1:]


def counted(number: int, thing: str) -> str:
    """Such as `three valves`, `one valve`, `no valves`."""
    spoken = _NUMBERS[number] if 0 <= number < len(_NUMBERS) else str(number)
    return f"{spoken} {thing}{'' if number == 1 else 's'}"


def nth(number: int) -> str:
    """Such as `6th`; for partials, which end at 16."""
    return _ORDINALS.get(number, f"{number}th")


def interval(semitones: int) -> str:
    """The name of an interval, such as `a fourth` for 5 semitones.

    Beyond an octave the semitones are counted.
    """
    if 0 <= semitones < len(_INTERVALS):
        return _INTERVALS[semitones]
    return counted(semitones, "semitone")


def lowering(semitones: int) -> str:
    """How far valves lower a tube, such as `lowered a tone`."""
    if semitones < 0:
        return f"raised {interval(-semitones)}"
    return f"lowered {interval(semitones)}"


def fingered(fingering: str) -> str:
    """A fingering in words, such as `open` or `with the first valve`."""
    words = {"0": "open", "none": "with no fingering"}
    return words.get(fingering) or FINGERS.get(fingering, f"with {fingering}")


def percent(chance: float) -> str:
    """A chance as it is honest to say it: never quite certain, never quite nothing."""
    if chance >= 0.995:
        return "over 99 %"
    if chance < 0.01:
        return "under 1 %"
    return f"{100 * chance:.0f} %"


def between(least: float, most: float) -> str:
    """A chance of which only the bounds are known, such as `79 to 98 %`."""
    if percent(least) == percent(most):
        return percent(least)
    if most >= 0.995:
        return f"at least {percent(least)}"
    if least < 0.01:
        return f"at most {percent(most)}"
    return f"{100 * least:.0f} to {percent(most)}"
