"""Each school's days begin and end by its own clock, others' of the same site by theirs."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.utils import timezone

from fleet.ground.access import Role
from fleet.letters.actions.reminding import remind
from fleet.letters.models import LendingRules, Letter
from fleet.people.actions.schools import change_settings
from fleet.people.models import School
from fleet.register.models import Horn
from fleet.register.queries.kept import as_told, differences
from tests import make

pytestmark = pytest.mark.django_db

# Noon in Greenwich is midnight in Auckland, whose summer time begins on 27 September (tz database).
FAR, DUE = "Pacific/Auckland", date(2026, 9, 14)
MIDNIGHT = datetime(2026, 9, 14, 12, tzinfo=UTC)
MOMENT = timedelta(seconds=1)


def of_zone(zone):
    """A school with its head and a loan that is due on the 14th."""
    school = make.school(time_zone=zone)
    head = make.staff(Role.HEAD, school)
    pupil = make.pupil(school, make.guardian(school))
    return school, head, make.loan(make.horn(school), pupil, head, issued_on=date(2026, 6, 1), due_on=DUE)


@pytest.mark.parametrize(("at", "here", "there"), [(MIDNIGHT - MOMENT, False, False), (MIDNIGHT, False, True)])
def test_a_loan_is_overdue_when_the_day_is_over_where_the_school_is(as_, monkeypatch, at, here, there):
    monkeypatch.setattr(timezone, "now", lambda: at)
    for zone, over in (("", here), (FAR, there)):
        school, head, loan = of_zone(zone)
        page = as_(head).get(f"/s/{school.slug}/horns/{loan.horn_id}/").content.decode()
        assert ("overdue" in page.split("<main")[1].lower()) is over, zone
        family = as_(loan.guardian.user).get(f"/family/{loan.pk}/")
        assert family.context["due"].is_over is over
    assert timezone.get_current_timezone_name() == "UTC"


@pytest.mark.parametrize(("at", "there"), [(MIDNIGHT - MOMENT, False), (MIDNIGHT, True)])
def test_a_family_with_children_at_two_schools_reads_what_is_overdue_by_the_clock_of_each(as_, monkeypatch, at, there):
    monkeypatch.setattr(timezone, "now", lambda: at)
    (_, head, near), (far_school, far_head, far) = of_zone(""), of_zone(FAR)
    guardian = far.pupil.guardians.get()
    guardian.user = near.guardian.user
    guardian.save()
    ended = make.loan(
        make.horn(far_school), far.pupil, far_head, issued_on=date(2026, 6, 1), returned_on=date(2026, 9, 1)
    )
    make.charge(ended, far_head, due_on=DUE)
    make.charge(near, head, due_on=DUE)
    for loan, by in ((near, head), (far, far_head)):
        make.signature(make.horn(loan.horn.school, build="single-f"), loan.pupil, by, due_on=DUE)
    browser = as_(near.guardian.user)

    pages = {
        page: browser.get(page).content.decode() for page in ("/family/", "/family/papers/", f"/family/{ended.pk}/")
    }

    waits = browser.get("/family/").context["to_sign"]
    assert [one.pupil for one in waits if one.pupil == far.pupil] == ([] if there else [far.pupil])
    assert near.pupil in {one.pupil for one in waits}
    # Two of its horns are due, and on the first page the charge of the loan that has ended.
    said = {page: told.count("overdue") for page, told in pages.items()}
    assert said == {"/family/": 2 * there, "/family/papers/": there, f"/family/{ended.pk}/": there}


@pytest.mark.parametrize(("at", "written"), [(MIDNIGHT - MOMENT, 0), (MIDNIGHT, 1)])
def test_letters_of_the_day_are_written_when_it_begins_where_the_school_is(at, written):
    for zone in ("", FAR):
        school, _, loan = of_zone(zone)
        # The first goes 14 days before.
        loan.due_on = date(2026, 9, 29)
        loan.save(update_fields=["due_on"])
        LendingRules.objects.create(school=school, reminds=True)

    remind(schools=list(School.objects.order_by("pk")), now=at)

    assert [letter.guardian.school.time_zone for letter in Letter.objects.all()] == [FAR] * written


@pytest.mark.parametrize(("at", "day"), [(MIDNIGHT - MOMENT, DUE), (MIDNIGHT, date(2026, 9, 15))])
def test_the_day_of_a_check_is_kept_by_the_schools_clock_and_anew_when_its_head_sets_another(at, day):
    school, head, loan = of_zone("")
    make.check(loan.horn, head, at=at)

    change_settings(school=school, settings={"time_zone": FAR}, by=head, at=at)

    loan.horn.refresh_from_db()
    assert loan.horn.checked_on == day
    assert [differences(horn) for horn in as_told(Horn.objects.all())] == [{}]


@pytest.mark.parametrize(("said", "status"), [("America/St_Johns", 302), ("", 302), ("Moon/Crater", 422)])
def test_a_head_chooses_among_the_zones_there_are(as_, said, status):
    school = make.school()
    client = as_(make.staff(Role.HEAD, school))
    form = client.get(f"/s/{school.slug}/settings/school/").context["form"]
    words = {name: value for name, value in form.initial.items() if value is not None} | {"time_zone": said}

    assert client.post(f"/s/{school.slug}/settings/school/", words).status_code == status
    school.refresh_from_db()
    assert school.time_zone == (said if status == 302 else "")
