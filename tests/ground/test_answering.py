"""From form to answer, each branch with a page of its own and rows that show what was kept."""

from __future__ import annotations

import pytest
from django import forms
from django.contrib.messages import get_messages
from django.contrib.messages.storage.fallback import FallbackStorage

from fleet.ground.access import Role
from fleet.ground.answering import answer, answer_elsewhere, one_of, posted, posted_files, sure
from fleet.ground.refusal import Reason, Refused, WayOut
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn, Place
from tests import make

pytestmark = pytest.mark.django_db
PAGE = "register/place.html"
KEEP_AGAIN = WayOut("register:standing", "Keep it again", (7,), (("from", "a & b"),))


class PlaceForm(forms.Form):
    room = forms.CharField()
    shelf = forms.CharField(required=False)


@pytest.fixture
def opened(rf, school):
    def request(sent=None, *, role=Role.TEACHER, **headers):
        one = rf.get("/") if sent is None else rf.post("/", sent, headers=headers)
        one.user = make.staff(role, school)
        one.seat = Seat(user=one.user, school=school, role=role)
        one.session = {}
        one.htmx = False
        one._messages = FallbackStorage(one)
        return one

    return request


def asked(request, school, *, no=None, page=PAGE, drawn=None, **more):
    """The answer to a form that makes a place; with `no`, the making is refused after it was written."""
    form = PlaceForm(posted(request))

    def act():
        made = Place.objects.create(school=school, room=form.cleaned_data["room"])
        if no is not None:
            raise no
        return made

    def shown():
        if drawn is not None:
            drawn.append(form)
        return {"place": Place(school=school), "horn": Horn(pk=7, school=school, number="H-7")}

    how = {"said": lambda made: f"{made} is there.", "then": lambda made: f"/places/{made.pk}/"} | more
    return answer(request, form, act, page=page, shown=shown, **how)


def words(request):
    return [(one.level_tag, str(one)) for one in get_messages(request)]


def test_a_page_only_opened_says_nothing_of_what_is_missing(opened, school):
    page = asked(opened(), school)

    assert page.status_code == 200
    assert "Not saved yet" not in page.content.decode()


def test_an_empty_form_sent_is_a_form_sent(opened, school):
    page = asked(opened({}), school)

    assert page.status_code == 422
    assert "Not saved yet" in page.content.decode()
    assert not Place.objects.exists()


def test_what_is_taken_is_said_and_leads_on_without_the_page_being_drawn(opened, school):
    request, drawn = opened({"room": "Cellar"}), []

    done = asked(request, school, drawn=drawn)

    made = Place.objects.get()
    assert (done.status_code, done.url) == (302, f"/places/{made.pk}/")
    assert words(request) == [("success", "Cellar is there.")]
    assert drawn == []


def test_a_form_kept_in_the_browser_reads_where_to_go_next(opened, school):
    done = asked(opened({"room": "Cellar"}, **{"X-Sent-By": "kept-check"}), school)

    assert done.status_code == 201
    assert done.content.decode() == f'{{"to": "/places/{Place.objects.get().pk}/"}}'


def test_what_is_refused_is_undone_and_says_why(opened, school):
    request = opened({"room": "Cellar"})

    page = asked(request, school, no=Refused("Not there."), page="register/standing.html")

    assert page.status_code == 409
    assert "<p>Not there.</p>" in page.content.decode()
    assert not Place.objects.exists()
    assert words(request) == []


def test_an_act_in_steps_of_its_own_keeps_what_came_before_the_refusal(opened, school):
    page = asked(opened({"room": "Cellar"}), school, no=Refused("No."), page="register/standing.html", in_steps=True)

    assert page.status_code == 409
    assert Place.objects.exists()


def test_a_page_may_show_another_form_than_the_one_that_was_sent(opened, school):
    other = PlaceForm(initial={"room": "Attic"})

    page = answer(
        opened({}), PlaceForm({}), dict, page=PAGE, shown=lambda: {"place": Place(), "form": other}, then=lambda _: "/"
    )

    assert (page.status_code, 'value="Attic"' in page.content.decode()) == (422, True)


@pytest.mark.parametrize(("role", "may"), [(Role.HEAD, True), (Role.TEACHER, False)])
def test_the_way_out_of_a_refusal_is_shown_to_those_who_may_go_there(opened, school, role, may):
    no = Refused.because(Reason("withdrawn", "It is withdrawn.", KEEP_AGAIN))

    page = asked(opened({"room": "Cellar"}, role=role), school, no=no, page="register/standing.html").content.decode()

    assert "It is withdrawn." in page
    assert (f'href="/s/{school.slug}/horns/7/standing/?from=a+%26+b">Keep it again</a>' in page) is may


def test_a_refusal_may_stand_beside_a_field(opened, school):
    drawn = []

    page = asked(opened({"room": "Cellar"}), school, no=Refused("Taken."), refused_on="room", drawn=drawn)

    assert page.status_code == 409
    assert drawn[0].errors == {"room": ["Taken."]}
    assert page.content.decode().count("Taken.") == 1


def test_what_is_done_on_refusal_is_done_before_the_page_is_drawn(opened, school):
    order = []

    asked(
        opened({"room": "Cellar"}), school, no=Refused("No."), drawn=order, when_refused=lambda: order.append("first")
    )

    assert [type(one) for one in order] == [str, PlaceForm]


def test_who_may_only_read_gets_the_page_without_a_form(opened, school):
    page = answer(
        opened(), None, Horn.objects.none, page=PAGE, shown=lambda: {"place": Place(school=school)}, then=lambda _: "/"
    )

    assert page.status_code == 200


def test_files_are_sent_beside_the_words(rf):
    assert posted_files(rf.get("/")) is None
    assert posted_files(rf.post("/", {})) == {}


@pytest.mark.parametrize(
    ("sent", "no", "told"),
    [
        (None, None, []),
        ({}, None, [("error", "This field is required.")]),
        ({"room": "Cellar"}, None, [("success", "Done.")]),
        ({"room": "Cellar"}, Refused("No."), [("error", "No.")]),
    ],
)
def test_a_button_whose_page_is_another_is_answered_there(opened, school, sent, no, told):
    request = opened(sent)
    form = PlaceForm(posted(request))

    def act():
        Place.objects.create(school=school, room="Cellar")
        if no is not None:
            raise no

    done = answer_elsewhere(request, form, act, to="/there/", said="Done.")

    assert (done.status_code, done.url) == (302, "/there/")
    assert words(request) == told
    assert Place.objects.exists() is (told == [("success", "Done.")])


def test_a_page_with_one_button_is_sent_by_pressing_it(rf):
    assert not sure(rf.get("/")).is_valid()
    assert sure(rf.post("/", {})).is_valid()


@pytest.mark.parametrize(
    ("sent", "way"), [(None, None), ({}, "other"), ({"do": "nonsense"}, "other"), ({"do": "ask"}, "asking")]
)
def test_of_several_buttons_the_one_that_was_pressed_is_answered(rf, sent, way):
    request = rf.get("/?do=ask") if sent is None else rf.post("/", sent)

    assert one_of(request, {"ask": "asking", "": "other"}) == way
