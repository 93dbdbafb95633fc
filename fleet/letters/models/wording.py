"""The words of letters: what a school begins with, and the placeholders it may write into its own."""

from __future__ import annotations

import re
from collections.abc import Mapping

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _s
from django.utils.translation import gettext_noop

from fleet.ground.languages.marks import _s_lazy

# What each placeholder stands for; anything else in braces is refused when the words are saved.
PLACES = {
    "guardian": _s_lazy("the guardian’s name"),
    "pupil": _s_lazy("the pupil’s name"),
    "horn": _s_lazy("the register number"),
    "kind": _s_lazy("what the horn is"),
    "due": _s_lazy("the due date"),
    "days": _s_lazy("days until it is due, or since it was"),
    "reason": _s_lazy("why it is recalled"),
    "contact": _s_lazy("whom families ask"),
    "school": _s_lazy("the school’s name"),
    "page": _s_lazy("the address of the family’s page; where there is none its line is left out"),
}
_BRACED = re.compile(r"\{([^{}\n]*)\}")
_ON_PAGE = re.compile(r" on your page:? \{ *page *\}\.?$")

BEFORE = (
    gettext_noop("{pupil}’s horn is due back on {due}"),
    gettext_noop("""\
Dear {guardian},

The horn {horn} that {pupil} has on loan from {school} is due back on {due}. Please let it come back in its \
case, with everything that went with it.

If you would like to keep it longer, or something is wrong with it, tell the school.

Your page: {page}

Questions: {contact}

{school}
"""),
)
AFTER = (
    gettext_noop("{pupil}’s horn was due back on {due}"),
    gettext_noop("""\
Dear {guardian},

The horn {horn} that {pupil} has on loan from {school} was due back on {due} and has not come back yet. Please \
let it come back in the next few days, in its case, with everything that went with it.

If you need it longer, or it is damaged or lost, tell the school.

Your page: {page}

Questions: {contact}

{school}
"""),
)
RECALLED = (
    gettext_noop("{school} needs {pupil}’s horn back by {due}"),
    gettext_noop("""\
Dear {guardian},

The school needs the horn {horn} that {pupil} has on loan sooner than agreed: please let it come back by {due}.

Why: {reason}

Questions: {contact}

{school}
"""),
)
TO_SIGN = (
    gettext_noop("Please sign for {pupil}’s horn"),
    gettext_noop("""\
Dear {guardian},

{school} would like to lend the horn {horn} to {pupil} until {due}. Before it goes out, please read the agreement \
and sign it.

Your page: {page} (you sign in with this e-mail address and a code that is sent to it)

If you would rather sign on paper, tell the school.

Questions: {contact}

{school}
"""),
)
MOVED = (
    gettext_noop("{pupil}’s horn: the due date is {due}"),
    gettext_noop("""\
Dear {guardian},

While our last letter was on its way, the due date of the horn {horn} changed. It is due back on {due}; please \
do not mind the other date.

Questions: {contact}

{school}
"""),
)


def fill(words: str, values: Mapping[str, str]) -> str:
    """Words with their placeholders filled. Values are put in as they are and never read as placeholders again."""
    return _BRACED.sub(lambda found: values.get(found[1].strip(), found[0]), words)


def without_page(words: str) -> str:
    """The words where there is no page to lead to: what sends a family there ends before, or is left out."""
    ended = [_ON_PAGE.sub(".", line) for line in words.splitlines()]
    kept: list[str] = []
    for line in ended:
        if "page" not in (name.strip() for name in _BRACED.findall(line)):
            kept.append(line)
        elif line.lstrip().startswith("{") and kept and kept[-1].rstrip().endswith(":"):
            # What leads to an address on a line of its own.
            kept.pop()
    return re.sub(r"\n{3,}", "\n\n", "\n".join(kept)) + "\n"


def check_places(words: str) -> None:
    """Raises ValidationError naming the first placeholder that nobody can fill."""
    for name in _BRACED.findall(words):
        if name.strip() not in PLACES:
            known = ", ".join(f"{{{place}}}" for place in PLACES)
            named = {"name": f"{{{name}}}", "known": known}
            raise ValidationError(_s("%(name)s stands for nothing. There are %(known)s.") % named)
