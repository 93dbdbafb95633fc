"""What a list's own words for a horn most probably mean. A guess to begin with: it never counts as identified."""

from __future__ import annotations

import re
from functools import lru_cache

from django.utils.translation import gettext as _s

from fleet.ground.wording import with_article
from fleet.register.models.kinds import build_of
from fleet.register.models.searching import searchable
from identify.core.horns.builds import Build

LONGEST = 120
# Words of lists in English, German, French, Spanish, Italian and Dutch, and what they say of a horn. From memory.
_WORDS: dict[str, str] = {
    "single": r"single|einfach\w*|simple|sencill\w*|semplice|enkel\w*",
    "double": r"double|doppel\w*|doble|doppio|dubbel\w*|dbl",
    "triple": r"triple|tripel\w*|triplo",
    "compact": r"compact\w*|kompakt\w*|kinder\w*|child\w*|junior|mini|compatto|small hands?",
    "compensating": r"comp|compens\w*|kompens\w*",
    "full": r"full|voll\w*",
    "descant": r"descant\w*|diskant\w*|discant\w*",
    "high f": r"high f|hoch f|hohes f|f alto|f aigu|fa aigu",
    "high eb": r"high e ?b|hoch es|high e flat|mi ?b aigu",
    "stopping": r"stopping|stopf\w*|a valve|a ventil|stop valve",
    "extension": r"extension|f ext\w*|f quart\w*|quartventil",
    "mellophonium": r"mellophonium|melofonium|mellofonium",
    "mellophone": r"mellophon\w*|mello|melofon\w*|mellofon\w*",
    "marching": r"marching|march|marsch\w*",
    "wagner": r"wagner\w*",
    "bass": r"bass|basso|basse|bajo",
    "vienna": r"vienna|wiener\w*|viennese|vienne",
    "piston": r"pistons?|piston valves?|perinet|pumpventil\w*|a pistons",
    "natural": r"natural\w*|natur\w*|naturel\w*|valveless|ventillos\w*|hand horn|inventions\w*",
    "alto": r"alto|tenor horn|althorn|alto horn|peck horn|genis",
    "baritone": r"baritone?|bariton\w*|tenorhorn",
    "trumpet": r"trumpet|trompete\w*|trompette|trompeta|tromba|trompet|cornet\w*|kornett?|cornetta|corneta",
    "flugelhorn": r"flugel\w*|fluegel\w*",
    "bugle": r"bugle",
    "hunting": r"hunting|jagd\w*|pless\w*|parforce\w*|chasse|caccia",
    "parforce": r"parforce\w*|trompe",
    "post": r"post|post ?horn",
    "horn": r"horn|horns|waldhorn|\w*horn|cor|corno|trompa|hoorn|corn",
}
_SAYS = {name: re.compile(rf"\b(?:{words})\b") for name, words in _WORDS.items()}
_F = re.compile(r"\b(?:f|fa|in f)\b")
# A B alone is the German name of B flat; nobody builds horns in B natural.
_BB = re.compile(r"\b(?:bb|b|b flat|si ?b|si bemol|sib|bes)\b")
_EB = re.compile(r"\b(?:eb|es|e flat|mi ?b|mi bemol|mib)\b")
_D = re.compile(r"\b(?:d|re)\b")
_G = re.compile(r"\b(?:g|sol)\b")


@lru_cache(maxsize=2048)
def suggested(words: str) -> tuple[Build, ...]:
    """The builds that words such as `double F/Bb` may mean, the likeliest first; none when they say too little."""
    found = (build_of(code) for code in _codes(words))
    return tuple(build for build in found if build is not None)


def in_a_sentence(words: str) -> str:
    """`perhaps a full double horn in F and B♭, or a …`; empty when nothing can be guessed."""
    names = [_s(with_article(build.name)) for build in suggested(words)]
    return _s("perhaps %(kinds)s") % {"kinds": _s(", or ").join(names)} if names else ""


def _codes(words: str) -> list[str]:
    text = " ".join(re.sub(r"[^a-z0-9]+", " ", searchable(words)).split())
    says = {name for name, pattern in _SAYS.items() if pattern.search(text)}
    in_f, in_bb, in_eb, in_g = (bool(key.search(text)) for key in (_F, _BB, _EB, _G))
    if "mellophonium" in says:
        return ["mellophonium-f"]
    if "mellophone" in says:
        if in_g and "bugle" in text:
            return ["mellophone-bugle-g", "marching-mellophone-g"]
        if "marching" in says:
            return ["marching-mellophone-g" if in_g else "marching-mellophone-f"]
        if in_f or in_eb:
            return ["mellophone-eb" if in_eb else "mellophone-f"]
        return ["mellophone-f", "marching-mellophone-f", "mellophone-eb"]
    if "wagner" in says:
        if "double" in says or (in_f and in_bb):
            return ["wagner-double"]
        if "bass" in says or in_f:
            return ["wagner-bass-f"]
        return ["wagner-tenor-bb"] if in_bb else ["wagner-tenor-bb", "wagner-bass-f", "wagner-double"]
    if "flugelhorn" in says:
        return ["flugelhorn-bb"]
    if "trumpet" in says:
        return ["trumpet-bb"]
    if says & {"hunting", "post", "bugle"}:
        return _signals(says, text, in_bb, in_eb, in_g)
    if "baritone" in says:
        return ["baritone-bb"]
    if "marching" in says:
        if in_g and "horn" in says:
            return ["marching-horn-g"]
        return ["marching-horn-bb"] if in_bb or "horn" in says else ["marching-mellophone-f", "marching-horn-bb"]
    if "natural" in says:
        return ["natural-horn"]
    if "vienna" in says:
        return ["vienna-double" if "double" in says or (in_f and in_bb) else "vienna-f"]
    if "triple" in says:
        return _one_of("triple-compensating", "triple-full", "compensating" in says, "full" in says)
    if "descant" in says or "high f" in says or "high eb" in says:
        return _high(says, in_bb, text)
    if "double" in says or (in_f and in_bb and not says & {"single", "compact", "extension"}):
        return _double(says)
    if "alto" in says:
        return ["alto-horn-f" if in_f else "alto-horn-eb"]
    return _single(says, in_f, in_bb, in_eb)


def _one_of(first: str, second: str, is_first: bool, is_second: bool) -> list[str]:
    return [first] if is_first else [second] if is_second else [second, first]


def _signals(says: set[str], text: str, in_bb: bool, in_eb: bool, in_g: bool) -> list[str]:
    if "hunting" not in says:
        # In French a bugle is a flugelhorn.
        return ["post-horn-bb"] if "post" in says else ["bugle-g"] if in_g else ["flugelhorn-bb", "bugle-bb"]
    if _D.search(text) and not in_bb:
        return ["hunting-horn-d"]
    if in_eb:
        return ["hunting-horn-eb"]
    if "parforce" in says:
        return ["hunting-horn-bb"] if in_bb else ["hunting-horn-eb", "hunting-horn-bb", "hunting-horn-d"]
    return ["post-horn-bb", "hunting-horn-bb"]


def _high(says: set[str], in_bb: bool, text: str) -> list[str]:
    if "high eb" in says:
        return ["descant-bb-high-eb"]
    if "single" in says or ("descant" not in says and not in_bb):
        return ["single-high-f"]
    if "stopping" in says:
        return ["descant-bb-high-f-stopping"]
    if in_bb:
        return ["descant-bb-high-f"]
    return ["descant-f-high-f"] if len(_F.findall(text)) > 1 else ["descant-bb-high-f", "descant-f-high-f"]


def _double(says: set[str]) -> list[str]:
    full, compensating = ("double-full", "double-compensating")
    if "stopping" in says:
        full, compensating = f"{full}-stopping", f"{compensating}-stopping"
    elif "compact" in says:
        full, compensating = f"compact-{full}", f"compact-{compensating}"
    if "compensating" in says:
        return [compensating]
    return [full] if "full" in says else [full, compensating]


def _single(says: set[str], in_f: bool, in_bb: bool, in_eb: bool) -> list[str]:
    if "stopping" in says and "extension" in says:
        return ["single-bb-stopping-f-extension"]
    if "extension" in says:
        return ["single-bb-f-extension"]
    if "stopping" in says:
        if "compact" in says:
            return ["compact-bb-stopping"]
        return ["single-f-stopping" if in_f and not in_bb else "single-bb-stopping"]
    if "piston" in says and (in_f or "single" in says or "horn" in says) and not in_bb:
        return ["piston-single-f"]
    if in_f and in_eb:
        return ["single-f-eb"]
    kind = "compact" if "compact" in says else "single"
    if in_f or in_bb:
        return [f"{kind}-{'f' if in_f else 'bb'}"]
    return [f"{kind}-f", f"{kind}-bb"] if says & {"single", "compact"} else []
