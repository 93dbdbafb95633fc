"""A registered horn as the fingering charts want it: its build in the form it has, and how it stands."""

from __future__ import annotations

from fleet.ground.languages.marks import _s_lazy
from fleet.register.models import Horn
from fleet.register.models.kinds import build_of
from identify.core.fingering.charts import Chart, chart
from identify.core.fingering.teaching import USUAL, Teaching
from identify.core.horns.builds import Build, Stand

# What a recorded fourth or fifth valve says of the build's form (`identify/core/data/builds.toml`).
_FORMS = {
    Horn.Valve.STOPPING.value: "stopping",
    Horn.Valve.QUART.value: _s_lazy("fourth valve"),
    Horn.Valve.ASCENDING.value: _s_lazy("ascending third"),
}


def form_of(horn: Horn) -> Build | None:
    """The horn's build, in the rarer form that its fourth or fifth valve points to; None when not identified."""
    build = build_of(horn.build)
    if build is None:
        return None
    pointed = {_FORMS.get(horn.fourth_valve), _FORMS.get(horn.fifth_valve)} - {None}
    return next((form for form in build.forms if form.form in pointed), build)


def stand_of(horn: Horn, build: Build) -> Stand | None:
    """How it stands; the only way it can where nothing is recorded; None when that leaves it open."""
    found = next((stand for stand in build.stands if stand.name == horn.stands_in), None)
    if found is None and not horn.stands_in and len(build.stands) == 1:
        return build.stands[0]
    return found


def chart_of(horn: Horn, teaching: Teaching = USUAL) -> Chart | None:
    """The horn's chart as it stands, taught so; None while its build or stand is not known."""
    build = form_of(horn)
    stand = stand_of(horn, build) if build else None
    return chart(build, stand, teaching) if build and stand else None
