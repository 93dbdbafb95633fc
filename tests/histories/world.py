"""Two small schools, of which one lives through a history and the other must never notice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import count
from typing import Any

from hypothesis import strategies as st

from fleet.ground.access import Role
from fleet.ground.refusal import Refused
from fleet.lending.models import Loan
from fleet.people.models import Guardian, Pupil, School, User
from fleet.register.models import Horn
from fleet.workshop.actions.checking import log_check
from fleet.workshop.models import RepairJob
from tests import make

Deed = Callable[[], object]
_slugs = count(1)

# Which horn, pupil or place of a small school; a number too large goes round. One horn has more of a history than
# the others, so that its acts meet.
WHICH = st.sampled_from([0, 0, 0, 0, 1, 1, 2, 3])
DAYS = st.integers(0, 9)


@dataclass
class World:
    """The school whose history it is; `other` has the same numbers and names, so that a leak would show."""

    school: School
    other: School
    heads: list[User]
    teacher: User
    technician: User
    at: datetime = make.NOW

    def again(self) -> World:
        """The same world at its beginning."""
        return replace(self, at=make.NOW)

    @property
    def today(self) -> date:
        return self.at.date()

    def tick(self, **how_long: int) -> datetime:
        """The moment of the next act: every act has its own."""
        self.at += timedelta(**how_long) if how_long else timedelta(minutes=1)
        return self.at

    def horn(self, which: int) -> Horn:
        return _nth(Horn.objects.at(self.school), which)

    def pupil(self, which: int) -> Pupil:
        return _nth(Pupil.objects.at(self.school), which)

    def staff(self, which: int) -> User:
        return (*self.heads, self.teacher, self.technician)[which % 4]

    def loan(self, which: int) -> Loan | None:
        """The loan this horn is out on, else its last one."""
        loans = self.horn(which).loans.select_related("pupil", "guardian", "horn", "check_at_issue")
        return loans.open().first() or loans.order_by("-pk").first()

    def job(self, which: int) -> RepairJob | None:
        """The horn's open job, else its last one."""
        jobs = self.horn(which).jobs.all()
        return jobs.open().first() or jobs.order_by("-pk").first()


def _nth(rows: Any, which: int) -> Any:
    found = list(rows.order_by("pk"))
    return found[which % len(found)]


def build_world() -> World:
    """Both schools have three horns, two of them ready to be lent, and two pupils, each with a guardian."""
    n = next(_slugs)
    school, other = make.school(slug=f"lived-{n}", approve_above=100), make.school(slug=f"quiet-{n}", approve_above=100)
    _furnish(other, school)
    return _furnish(school, other)


def _furnish(school: School, other: School) -> World:
    heads = [make.staff(Role.HEAD, school) for _ in range(2)]
    teacher, technician = make.staff(Role.TEACHER, school), make.staff(Role.TECHNICIAN, school)
    rooms = [make.place(school, room=f"Room {n}") for n in (1, 2)]
    for number, build, stand in (("H-1", "double-full", "F"), ("H-2", "single-f", "F"), ("H-3", "", "")):
        horn = make.horn(school, number=number, build=build, stands_in=stand, place=rooms[0], created=make.NOW)
        if build:
            log_check(horn=horn, by=technician, at=make.NOW, occasion="other", finish_grade=2, found=())
    make.part(school, name="string", on_hand=1, mends=["string-broken"])
    for name in ("Ada Quill", "Ben Reed"):
        make.pupil(school, make.guardian(school), name=name, group="5b")
    return World(school, other, heads, teacher, technician, at=make.NOW)


@dataclass(frozen=True)
class Act:
    """One thing somebody does: `prepare` reads what their page had read and gives the deed that follows, or None
    where the page would not offer it. It happens `often` times as often as the rarest."""

    prepare: Callable[..., Deed | None]
    draws: dict[str, st.SearchStrategy[Any]]
    often: int


ACTS: dict[str, Act] = {}


def act(
    often: int = 2, **draws: st.SearchStrategy[Any]
) -> Callable[[Callable[..., Deed | None]], Callable[..., Deed | None]]:
    """Puts a function among the acts of a history, with what is drawn for each of its arguments."""

    def put(prepare: Callable[..., Deed | None]) -> Callable[..., Deed | None]:
        assert prepare.__name__ not in ACTS, f"two acts are called {prepare.__name__}"
        ACTS[prepare.__name__] = Act(prepare, draws, often)
        return prepare

    return put


def do(world: World, name: str, /, **said: Any) -> object:
    """What the act gave, None where it was refused or not offered; whatever else it raises is a fault."""
    return attempt(ACTS[name].prepare(world, **said))


def attempt(deed: Deed | None) -> object:
    """What the deed gave, None where it was refused; whatever else it raises is a fault."""
    if deed is None:
        return None
    try:
        return deed()
    except Refused:
        return None


def guardian_of(pupil: Pupil) -> Guardian | None:
    return pupil.guardians.order_by("pk").first()


def as_family(user: User, deed: Deed) -> Deed:
    """What somebody of a family does on their own page: they have signed in before it."""

    def done() -> object:
        User.objects.filter(pk=user.pk).update(last_login=make.NOW)
        return deed()

    return done
