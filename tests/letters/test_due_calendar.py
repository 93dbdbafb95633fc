from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from fleet.lending.actions import dates
from fleet.letters.actions.calendar import make_key
from fleet.letters.models import CalendarKey
from fleet.people.models import Guardian, Post, User
from fleet.record.models import Act, Deed
from tests import make

DAY = timedelta(days=1)


@pytest.fixture
def secret(lending):
    return make_key(school=lending.school, user=lending.teacher, at=make.NOW)


def read(secret):
    return Client().get(reverse("calendar-feed", args=(secret,)))


def events(secret):
    return Calendar.from_ical(read(secret).content).walk("VEVENT")


def test_the_feed_holds_the_due_date_of_each_open_loan_of_this_school(lending, out, elsewhere, secret):
    ended = make.loan(make.horn(lending.school), lending.pupil, lending.teacher, returned_on=make.TODAY)
    (event,) = events(secret)
    assert str(event["uid"]) == f"loan-{out.pk}@testserver"
    assert str(event["summary"]) == f"{lending.horn} is due back"
    assert event.decoded("dtstart") == out.due_on == date(2027, 4, 2)
    assert event.decoded("dtend") == out.due_on + DAY
    assert str(event["url"]).endswith(f"/s/{lending.school.slug}/loans/{out.pk}/")
    assert f"loan-{ended.pk}@" not in read(secret).content.decode()


def test_the_feed_names_no_pupil_and_no_guardian(lending, out, secret):
    file = read(secret).content.decode()
    assert lending.pupil.name not in file
    assert lending.guardian.name not in file


@pytest.mark.parametrize(("secure", "status"), [(True, 200), (False, 404)])
def test_on_https_a_calendar_is_neither_given_nor_led_on_from_http(secret, settings, secure, status):
    settings.SECURE_SSL_REDIRECT, settings.SECURE_REDIRECT_EXEMPT = True, ["^calendar/"]

    assert Client().get(reverse("calendar-feed", args=(secret,)), secure=secure).status_code == status


def test_a_renewed_loan_keeps_its_event_and_counts_the_change(lending, out, secret):
    before = events(secret)[0]
    dates.renew(loan=out, due_on=out.due_on + DAY, due_seen=out.due_on, reason="", by=lending.teacher, at=make.NOW)
    after = events(secret)[0]
    assert (after["uid"], after["sequence"]) == (before["uid"], 1)


def test_lines_end_and_fold_as_rfc_5545_says(lending, out, secret):
    # RFC 5545, 3.1: lines end with CRLF and are at most 75 octets long.
    lending.school.name = "Schule mit einem sehr langen Namen, der umbrochen werden muß; und Zeichen wie \\ und ,"
    lending.school.save()
    answer = read(secret)
    lines = answer.content.split(b"\r\n")
    assert lines[0] == b"BEGIN:VCALENDAR"
    assert all(len(line) <= 75 and b"\n" not in line for line in lines)
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
    assert str(Calendar.from_ical(answer.content)["x-wr-calname"]) == f"Horns due, {lending.school.name}"


def test_the_database_does_not_hold_the_secret_and_it_has_160_bits(lending, secret):
    key = CalendarKey.objects.get()
    assert secret not in str(vars(key))
    # 20 bytes in base64 without padding.
    assert len(secret) == 27


@pytest.mark.parametrize("guess", ["x", "x" * 27, "x" * 500, "%00", "é"])
def test_a_guess_opens_nothing(lending, secret, guess):
    assert read(guess).status_code == 404


def test_revoked_replaced_left_and_closed_each_end_the_feed(lending, secret, as_):
    page = reverse("loans:calendar", args=(lending.school.slug,))
    client = as_(lending.teacher)

    shown = client.post(page, {"do": "make"}, follow=True).context["address"]
    second = shown.rsplit("/", 1)[1].removesuffix(".ics")
    assert (read(secret).status_code, read(second).status_code) == (404, 200)
    assert client.get(page).context["address"] == ""

    client.post(page, {"do": "revoke"})
    client.post(page, {"do": "revoke"})
    assert read(second).status_code == 404
    acts = Act.objects.filter(deed__startswith="taken.calendar-").order_by("pk")
    made, revoked = Deed.CALENDAR_MADE, Deed.CALENDAR_REVOKED
    assert [(act.deed, act.by) for act in acts] == [(one, lending.teacher) for one in (made, revoked, made, revoked)]

    third = make_key(school=lending.school, user=lending.teacher, at=make.NOW)
    User.objects.filter(pk=lending.teacher.pk).update(is_active=False)
    assert read(third).status_code == 404
    User.objects.filter(pk=lending.teacher.pk).update(is_active=True)
    Post.objects.filter(user=lending.teacher).delete()
    assert read(third).status_code == 404


def test_the_feed_is_only_read(lending, secret):
    assert Client().post(reverse("calendar-feed", args=(secret,))).status_code == 405


def test_the_feed_takes_as_many_queries_for_three_loans_as_for_one(lending, out, secret, django_assert_num_queries):
    read(secret)
    for more in (0, 2):
        for _ in range(more):
            make.loan(make.horn(lending.school), lending.pupil, lending.teacher)
        with django_assert_num_queries(4):
            assert len(events(secret)) == more + 1


@pytest.fixture
def feed_of(lending, out):
    """Makes the address of the family's own feed on its page, and reads it."""

    def made(as_) -> str:
        page = as_(lending.guardian.user)
        page.post("/family/papers/calendar/", {"school": lending.school.pk})
        shown = page.get("/family/papers/calendar/")
        ((_, _, address),) = shown.context["feeds"]
        assert address not in page.get("/family/papers/calendar/").content.decode()
        return str(address).rsplit("/", 1)[1].removesuffix(".ics")

    return made


def test_a_familys_feed_holds_the_days_of_its_own_horns_at_that_school_and_no_name(
    lending, out, elsewhere, feed_of, as_
):
    another = make.pupil(lending.school, make.guardian(lending.school))
    make.loan(make.horn(lending.school), another, lending.teacher)

    secret = feed_of(as_)

    (event,) = events(secret)
    assert str(event["uid"]) == f"loan-{out.pk}@testserver"
    assert str(event["url"]).endswith(f"/family/{out.pk}/")
    said = read(secret).content.decode()
    assert (lending.pupil.name in said, lending.guardian.name in said) == (False, False)


def test_a_familys_feed_speaks_its_language(lending, out, feed_of, as_):
    lending.school.family_languages = ["de"]
    lending.school.save()
    Guardian.objects.filter(pk=lending.guardian.pk).update(language="de")

    secret = feed_of(as_)

    assert str(Calendar.from_ical(read(secret).content)["x-wr-calname"]) == "Die Hörner Ihrer Kinder"


def test_a_new_address_ends_the_old_one_and_the_end_ends_both(lending, out, feed_of, as_):
    first, second = feed_of(as_), feed_of(as_)
    assert (read(first).status_code, read(second).status_code) == (404, 200)

    as_(lending.guardian.user).post("/family/papers/calendar/", {"school": lending.school.pk, "do": "end"})

    assert read(second).status_code == 404


def test_who_is_staff_and_guardian_has_two_feeds_each_with_its_own(lending, out, feed_of, as_):
    make.loan(make.horn(lending.school), make.pupil(lending.school), lending.teacher)
    staffs = make_key(school=lending.school, user=lending.guardian.user, at=make.NOW)
    post = Post.objects.create(
        school=lending.school, user=lending.guardian.user, role=Post.Role.TEACHER, since=make.NOW
    )
    own = feed_of(as_)

    assert (len(events(staffs)), len(events(own))) == (2, 1)

    post.delete()
    assert (read(staffs).status_code, read(own).status_code) == (404, 200)
    Guardian.objects.filter(pk=lending.guardian.pk).update(user=None)
    assert read(own).status_code == 404


def test_no_address_is_made_for_a_school_where_the_family_has_no_child(lending, out, elsewhere, as_):
    as_(lending.guardian.user).post("/family/papers/calendar/", {"school": make.school().pk})

    assert not CalendarKey.objects.exists()
