"""What nobody needs and nobody misses goes after a day; what is in use stays."""

from __future__ import annotations

import os
from datetime import timedelta
from io import StringIO
from pathlib import Path

import pytest
from django.contrib.sessions.models import Session
from django.core.cache.backends.db import DatabaseCache
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.desk.actions import tidying
from fleet.desk.actions.tidying import LIES_FOR, _lies_since, tidy
from fleet.exchange.actions.measuring import measure_tables
from fleet.ground.access import Role
from fleet.management.commands import prepare
from fleet.people.models import User
from fleet.people.models.families import SIGNS_AFTER
from fleet.register.models import Horn, Photograph
from fleet.register.queries.horns_now import owings
from fleet.reports.queries.figures import idle
from fleet.workshop.models import CheckPhotograph, RepairJob
from fleet.workshop.queries.agreed import turnarounds
from tests import make

pytestmark = pytest.mark.django_db
MOMENT = timedelta(seconds=1)


def a_picture(name: str, *, age: timedelta = LIES_FOR + MOMENT) -> str:
    kept = default_storage.save(name, ContentFile(b"a picture"))
    written = (make.NOW - age).timestamp()
    os.utime(default_storage.path(kept), (written, written))
    return kept


@pytest.fixture
def horn():
    """A horn with a photograph, and a check of it with another, both older than a day."""
    school = make.school()
    head, horn = make.staff(Role.HEAD, school), make.horn(school)
    size = {"width": 20, "height": 20}
    Photograph.objects.create(horn=horn, at=make.NOW, by=head, image=a_picture("horns/2026/kept.jpg"), **size)
    loan = make.loan(horn, make.pupil(school), head)
    checked = {"check_made": loan.check_at_issue, "image": a_picture("checks/2026/kept.jpg"), **size}
    CheckPhotograph.objects.create(**checked)
    return horn


def test_turns_are_kept_in_a_transaction_since_horns_are_locked_for_it(monkeypatch):
    school = make.school()
    make.job(make.horn(school), make.staff(Role.TECHNICIAN, school))
    within: list[int] = []
    monkeypatch.setattr(tidying, "keep_all", lambda horns: within.append(len(connection.savepoint_ids)))
    around = len(connection.savepoint_ids)

    tidy(at=make.NOW)

    assert within == [around + 1]


def test_an_update_keeps_the_turns_of_jobs_that_had_none(monkeypatch):
    school = make.school()
    make.job_with(make.horn(school), make.staff(Role.TECHNICIAN, school), ("string-broken", "r"))
    kept = RepairJob.objects.values_list("turn", flat=True).get()
    RepairJob.objects.update(turn=None)
    # Tables, files and who may read them are no affair of this.
    monkeypatch.setattr(prepare, "call_command", lambda *what, **how: None)
    monkeypatch.setattr(prepare.environment, "private", lambda *what, **how: None)

    prepare.Command().handle()

    assert RepairJob.objects.values_list("turn", flat=True).get() == kept


def test_what_says_no_school_says_that_of_its_horn_pupil_or_guardian():
    school = make.school()
    head, pupil = make.staff(Role.HEAD, school), make.pupil(school)
    loan = make.loan(make.horn(school), pupil, head)
    job = make.job_with(make.horn(school), head, ("string-broken", "r"))
    rows = [loan, job, job.findings.get(), make.wish(pupil, head), make.letter(loan)]
    kept = RepairJob.objects.values_list("turn", "wants").get()
    for row in rows:
        type(row).objects.update(school=None)
    RepairJob.objects.update(turn=None, wants=[])

    tidy(at=make.NOW)

    assert [type(row).objects.get(school=school) for row in rows] == rows
    assert RepairJob.objects.values_list("turn", "wants").get() == kept


def test_a_link_to_object_by_goes_when_it_is_over_and_what_was_objected_to_stays():
    guardian = make.guardian(make.school())
    for n, (age, objected_at) in enumerate(
        ((SIGNS_AFTER, None), (SIGNS_AFTER - MOMENT, None), (SIGNS_AFTER, make.NOW))
    ):
        guardian.address_changes.create(
            before=f"{n}@example.org", at=make.NOW - age, digest=str(n), objected_at=objected_at
        )

    assert str(tidy(at=make.NOW)) == "1 addresses that can object no more"
    assert [one.before for one in guardian.address_changes.order_by("pk")] == ["1@example.org", "2@example.org"]


def test_an_account_that_is_nobodys_goes_after_a_day_and_none_that_a_row_names():
    school = make.school()
    guardian, horn = make.guardian(school), make.horn(school)
    old = {"created": make.NOW - LIES_FOR - MOMENT}
    reported, new, _ = make.user(), make.user(), make.user()
    staff = make.staff(Role.TEACHER, school)
    User.objects.exclude(pk=new.pk).update(**old)
    User.objects.filter(pk=new.pk).update(created=make.NOW - LIES_FOR)
    make.report(horn, reported)

    assert str(tidy(at=make.NOW)) == "1 accounts that are nobody’s"
    assert set(User.objects.all()) == {guardian.user, reported, new, staff}


def left() -> set[str]:
    folder = Path(default_storage.path(""))
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def test_a_picture_that_no_row_names_goes_after_a_day_and_not_before(horn):
    a_picture("horns/2026/orphan.jpg")
    a_picture("checks-unsaved/taken.jpg")
    a_picture("horns/2026/young.jpg", age=LIES_FOR)

    assert str(tidy(at=make.NOW)) == "2 pictures of no record"
    assert left() == {"horns/2026/kept.jpg", "checks/2026/kept.jpg", "horns/2026/young.jpg"}


def test_where_no_row_names_any_picture_the_folder_may_be_another_sites_and_all_stay():
    a_picture("horns/2026/of-another-site.jpg")

    assert str(tidy(at=make.NOW)) == ""
    assert left() == {"horns/2026/of-another-site.jpg"}


def test_sessions_that_ended_go_and_those_that_did_not_stay():
    for key, end in (("over", make.NOW - MOMENT), ("open", make.NOW)):
        Session.objects.create(session_key=key, session_data="", expire_date=end)

    assert str(tidy(at=make.NOW)) == "1 ended sessions"
    assert [one.session_key for one in Session.objects.all()] == ["open"]


def test_counters_that_are_over_go_and_those_that_count_stay():
    call_command("createcachetable", "throttle_counters", verbosity=0)
    counters = DatabaseCache("throttle_counters", {})
    # The library reads the clock itself, so one is long over and one is not over for long.
    counters.set("over", 1, timeout=-1)
    counters.set("counting", 1, timeout=10**9)

    assert str(tidy(at=make.NOW.replace(year=2040))) == "1 old counters of the sign-in pages"
    assert counters.get("counting") == 1


def test_files_half_written_go_after_a_day_and_no_other_file_does(tmp_path, settings):
    settings.DATA_DIR = tmp_path
    (tmp_path / "backups").mkdir()
    names = [".horns.zip.part", "backups/.horns-2026-09-01.zip.part", "backups/horns-2026-09-01.zip", "secret"]
    for name, age in [*((name, LIES_FOR + MOMENT) for name in names), (".young.zip.part", LIES_FOR)]:
        (tmp_path / name).touch()
        os.utime(tmp_path / name, ((make.NOW - age).timestamp(),) * 2)

    assert str(tidy(at=make.NOW)) == "2 files half written"
    assert {path.name for path in tmp_path.rglob("*") if path.is_file()} == {
        "horns-2026-09-01.zip",
        "secret",
        ".young.zip.part",
    }


def test_the_nightly_command_says_first_and_tidies_only_when_told(horn, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: make.NOW)
    a_picture("horns/2026/orphan.jpg")

    def said(*words: str) -> str:
        out = StringIO()
        call_command("forget", *words, stdout=out)
        return out.getvalue()

    assert "1 pictures of no record: would be removed" in said()
    assert "horns/2026/orphan.jpg" in left()
    assert "1 pictures of no record: removed" in said("--do")
    assert "horns/2026/orphan.jpg" not in left()
    assert "no record" not in said("--do")


def test_a_file_that_has_gone_meanwhile_lies_nowhere(tmp_path):
    assert _lies_since(tmp_path / "gone.jpg", make.NOW) is False


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL looks for itself")
def test_what_hangs_on_an_empty_table_is_looked_for_there_and_not_horn_by_horn():
    school = make.school()
    Horn.objects.bulk_create(Horn(school=school, number=f"HN-{n}") for n in range(100, 400))
    reported = owings()["report"].rows(school, make.TODAY)

    measure_tables()

    horns = [line for line in reported.explain().splitlines() if "register_horn" in line]
    assert horns
    assert [line for line in horns if "rowid=?" not in line] == []


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL looks for itself")
def test_connections_that_are_open_read_anew_what_was_measured():
    def version() -> int:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA schema_version")
            return cursor.fetchone()[0]

    measure_tables()
    before = version()

    measure_tables()

    # By this every other connection sees at its next query that it has to (sqlite.org/fileformat2.html, 1.3.9).
    assert version() > before


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL plans by the rows there are")
def test_what_may_be_lent_is_counted_along_an_index_and_what_was_paid_found_by_one():
    horns = Horn.objects.at(make.school())

    assert "(school_id=? AND may_be_lent=?)" in horns.may_be_lent().values("build", "wrap", "stands_in").explain()
    assert "horn_priced" in horns.ever_had().identified().filter(price__gt=0).explain()


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL plans by the rows there are")
def test_what_is_idle_how_long_repairers_take_and_words_of_withdrawn_horns_are_found_along_an_index(as_):
    school = make.school()
    browser = as_(make.staff(Role.HEAD, school))
    with CaptureQueriesContext(connection) as queries:
        idle(school, make.TODAY)
        turnarounds(school)
        browser.get(f"/s/{school.slug}/horns/", {"q": "zz"})

    with connection.cursor() as cursor:
        plans = [
            " ".join(row[3] for row in cursor.execute(f"EXPLAIN QUERY PLAN {one['sql']}").fetchall())
            for one in queries
            if one["sql"].startswith(("SELECT", "WITH"))
        ]
    for index in ("horn_idle", "horn_never_lent", "job_back_newest"):
        assert sum(index in one for one in plans) == 1, index
    # Both what is found, and what the list leaves out of it.
    assert sum("register_horn_search" in one for one in plans) == 2


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL plans by the rows there are")
@pytest.mark.parametrize(
    ("owed", "index"),
    [
        ("mended", "horn_mended"),
        ("mouthpiece", "horn_mouthpiece"),
        ("test-note", "horn_test_note"),
        ("not-found", "(school_id=? AND where_now=?)"),
        ("leaver", "pupil_gone"),
        ("accessory", "accessory_missing"),
        ("to-decide", "disposal_undecided"),
    ],
)
def test_what_few_wait_for_is_found_by_its_index(owed, index):
    school = make.school()
    Horn.objects.bulk_create(Horn(school=school, number=f"HN-{n}") for n in range(100, 400))
    measure_tables()

    plan = owings()[owed].rows(school, make.TODAY).explain()

    assert index in plan, plan


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL knows how many loans take no other's place")
def test_loans_that_follow_others_or_are_not_signed_are_found_by_their_index_where_none_do():
    school = make.school()
    pupils, head = [make.pupil(school) for _ in range(3)], make.staff(Role.HEAD, school)
    for n in range(12):
        make.loan(make.horn(school), pupils[n % 3], head)
    measure_tables()

    theirs = pupils[0].loans.open().select_related("horn__school", "replaced_by__horn")
    assert "loan_follows" in theirs.order_by("due_on", "pk").explain()
    assert "loan_unsigned" in owings()["unsigned"].rows(school, make.TODAY).explain()
