"""Kinds of horn and stands in words and as choices, all from the catalogue of `identify.core`."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import NamedTuple

from django.utils.translation import gettext
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.wording import either
from identify.core.horns.builds import Build
from identify.core.horns.catalogue import catalogue

NOT_LOOKED_AT = _s_lazy("not looked at")
FAMILIES = {"horn": _s_lazy("French horns"), "wagner": _s_lazy("Wagner tubas"), "other": _s_lazy("Not French horns")}
Choice = tuple[str, str]
BELLS = [("fixed", _s_lazy("fixed")), ("screw", _s_lazy("screws off"))]


def build_of(code: str) -> Build | None:
    return catalogue().get(code)


class Sort(NamedTuple):
    """`kind` is "single" or "double"."""

    family: str
    kind: str
    compact: bool


@cache
def sort_of(code: str, wrap: str = "") -> Sort | None:
    """What sort of horn a build is, in the wrap given or its usual one; None where nobody knows the build."""
    build = build_of(code)
    if build is None:
        return None
    usual = build.wrap[0] if build.wrap else ""
    return Sort(build.family, "double" if len(build.sides) > 1 else "single", (wrap or usual) == "compact")


def wraps_of(code: str) -> set[str]:
    """Every wrap a build is met in, its rarer forms with it."""
    build = build_of(code)
    return {wrap for form in build.forms for wrap in form.wrap} if build else set()


def kind_in_english(code: str) -> str:
    """A build's name, for what is kept: somebody may act in any language. The code itself for one the catalogue no
    longer has; empty for none."""
    build = build_of(code)
    return build.name if build else code


def kind_in_words(code: str) -> str:
    """The same in the language of the page."""
    words = kind_in_english(code)
    return gettext(words) if words else ""


def key_in_english(stands_in: str) -> str:
    """For what is kept."""
    return stands_in.replace("Bb", "B♭").replace("Eb", "E♭")


def stand_in_words(stands_in: str) -> str:
    """The key as the language of the page names it: German has B where English has B♭."""
    return gettext(key_in_english(stands_in)) if stands_in else ""


def named_after_its_stand(code: str) -> bool:
    """Whether the kind says it already: a horn with one tube, without crooks."""
    build = build_of(code)
    return bool(build and len(build.sides) == 1 and not build.crooked)


def kind_and_stand(code: str, stands_in: str) -> str:
    """`full double horn in F and B♭, stands in B♭`, in the language of the page."""
    if not stands_in or named_after_its_stand(code):
        return kind_in_words(code)
    return gettext("%(kind)s, stands in %(key)s") % {"kind": kind_in_words(code), "key": stand_in_words(stands_in)}


# What somebody looks for: of which family, single or double, and whether it is to be compact.
_SOUGHT = {
    ("", "", False): _s_lazy("a horn"),
    ("", "single", False): _s_lazy("a single horn"),
    ("", "double", False): _s_lazy("a double horn"),
    ("", "", True): _s_lazy("a compact horn"),
    ("", "single", True): _s_lazy("a compact single horn"),
    ("", "double", True): _s_lazy("a compact double horn"),
    ("horn", "", False): _s_lazy("a French horn"),
    ("horn", "single", False): _s_lazy("a single French horn"),
    ("horn", "double", False): _s_lazy("a double French horn"),
    ("horn", "", True): _s_lazy("a compact French horn"),
    ("horn", "single", True): _s_lazy("a compact single French horn"),
    ("horn", "double", True): _s_lazy("a compact double French horn"),
    ("wagner", "", False): _s_lazy("a Wagner tuba"),
    ("wagner", "single", False): _s_lazy("a single Wagner tuba"),
    ("wagner", "double", False): _s_lazy("a double Wagner tuba"),
    ("wagner", "", True): _s_lazy("a compact Wagner tuba"),
    ("wagner", "single", True): _s_lazy("a compact single Wagner tuba"),
    ("wagner", "double", True): _s_lazy("a compact double Wagner tuba"),
    ("other", "", False): _s_lazy("an instrument that is no French horn"),
    ("other", "single", False): _s_lazy("a single instrument that is no French horn"),
    ("other", "double", False): _s_lazy("a double instrument that is no French horn"),
    ("other", "", True): _s_lazy("a compact instrument that is no French horn"),
    ("other", "single", True): _s_lazy("a compact single instrument that is no French horn"),
    ("other", "double", True): _s_lazy("a compact double instrument that is no French horn"),
}


def sought(*, kind: str, compact: bool, family: str = "", stands_in: str = "") -> str:
    """`a compact single French horn that stands in F`, for one that is not chosen yet."""
    what = str(_SOUGHT[family, kind, compact])
    if not stands_in:
        return what
    return _s("%(what)s that stands in %(stand)s") % {"what": what, "stand": stand_in_words(stands_in)}


def said_again(kept: str) -> str:
    """What `kind_and_stand` said in English when it was kept, in the language of the page."""
    kind, stands, key = kept.partition(", stands in ")
    if stands:
        return gettext("%(kind)s, stands in %(key)s") % {"kind": gettext(kind), "key": gettext(key)}
    return gettext(kind) if kind else ""


def kinds() -> list[tuple[str, list[Choice]]]:
    """Every build of the catalogue, by family and then as common as it is in schools."""
    return [
        (label, [(code, gettext(name)) for code, name in _by_family()[family]]) for family, label in FAMILIES.items()
    ]


@lru_cache(maxsize=1)
def _by_family() -> dict[str, list[Choice]]:
    usual_first = sorted(catalogue().values(), key=lambda build: -build.prior)
    return {family: [(one.code, one.name) for one in usual_first if one.family == family] for family in FAMILIES}


def stands() -> list[Choice]:
    """Every key a build of the catalogue can stand in, the usual ones first."""
    return [(name, stand_in_words(name)) for name in _stands()]


@lru_cache(maxsize=1)
def _stands() -> list[str]:
    weight: dict[str, float] = {}
    for build in catalogue().values():
        for stand in build.stands:
            weight[stand.name] = weight.get(stand.name, 0) + stand.share * build.prior
    return sorted(weight, key=lambda name: (-weight[name], name))


def stands_of(code: str) -> list[Choice]:
    build = build_of(code)
    return [(stand.name, stand_in_words(stand.name)) for stand in build.stands] if build else []


def reversible(code: str) -> bool:
    """Whether restringing gives this build another stand."""
    build = build_of(code)
    return bool(build and build.reversible)


def what_does_not_fit(code: str, stands_in: str) -> str:
    """A sentence when a build cannot stand so, or "" when the two go together."""
    if not stands_in:
        return ""
    build = build_of(code)
    if build is None:
        return _s("Say what the horn is before saying what it stands in.")
    if stands_in in {stand.name for stand in build.stands}:
        return ""
    can = either([words for _, words in stands_of(code)])
    return _s("A %(kind)s does not stand in %(key)s; it stands in %(others)s.") % {
        "kind": kind_in_words(code),
        "key": stand_in_words(stands_in),
        "others": can,
    }
