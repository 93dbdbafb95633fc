from io import StringIO
from urllib.parse import urlencode

import pytest
from django.core import mail
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction

from fleet.ground.access import Role
from fleet.people.models import Guardian, Post, Pupil, School, User
from fleet.people.models.families import NO_CONTACT
from fleet.record.models import Act, Deed
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]


def test_a_new_pupil_leads_on_to_who_answers_for_them(as_):
    school = make.school()
    client = as_(make.staff(Role.TEACHER, school))

    answer = client.post(f"/s/{school.slug}/pupils/new/", {"name": "Ada", "year": "6", "group": "Band"})

    pupil = Pupil.objects.get()
    assert (pupil.school, pupil.name, pupil.year) == (school, "Ada", "6")
    assert answer.url == f"/s/{school.slug}/pupils/{pupil.pk}/guardians/new/"


def test_a_pupil_id_stands_once_in_a_school(as_):
    school, other = make.school(), make.school()
    make.pupil(school, pupil_id="P-1")
    make.pupil(other, pupil_id="P-2")
    client = as_(make.staff(Role.TEACHER, school))

    again = client.post(f"/s/{school.slug}/pupils/new/", {"name": "Ben", "pupil_id": "P-1"})
    fresh = client.post(f"/s/{school.slug}/pupils/new/", {"name": "Ben", "pupil_id": "P-2"})

    assert again.status_code == 422
    assert "A pupil with this id is already on record." in again.content.decode()
    assert 'value="Ben"' in again.content.decode()
    assert fresh.status_code == 302


def test_a_guardian_with_an_e_mail_address_gets_an_account_without_a_password(as_):
    school = make.school()
    pupil = make.pupil(school)
    client = as_(make.staff(Role.TEACHER, school))

    client.post(f"/s/{school.slug}/pupils/{pupil.pk}/guardians/new/", {"name": "Maria", "email": "Maria@Example.org"})

    guardian = pupil.guardians.get()
    assert guardian.email == "maria@example.org"
    assert guardian.user == User.objects.get(email="maria@example.org")
    assert not guardian.user.has_usable_password()


def test_a_guardian_of_two_pupils_is_kept_once(as_):
    school = make.school()
    maria = make.guardian(school, email="maria@example.org")
    make.pupil(school, maria)
    second = make.pupil(school)
    client = as_(make.staff(Role.TEACHER, school))

    client.post(f"/s/{school.slug}/pupils/{second.pk}/guardians/new/", {"name": "Maria", "email": "MARIA@example.org"})

    assert Guardian.objects.count() == 1
    assert second.guardians.get() == maria


def test_a_guardian_without_an_address_is_told_nothing_of_signing_on_the_page(as_):
    school = make.school()
    pupil, client = make.pupil(school), as_(make.staff(Role.TEACHER, school))

    said = {"name": "Maria", "telephone": "0123"}
    answer = client.post(f"/s/{school.slug}/pupils/{pupil.pk}/guardians/new/", said, follow=True)

    assert f"Maria answers for {pupil.name}." in folded(answer)
    assert "signs on their page" not in folded(answer)


def test_a_number_given_with_a_known_address_is_kept_where_there_was_none(as_):
    school = make.school()
    maria = make.guardian(school, email="maria@example.org")
    client = as_(make.staff(Role.TEACHER, school))

    for number in ("0123", "0999"):
        said = {"name": "Maria", "email": "maria@example.org", "telephone": number}
        client.post(f"/s/{school.slug}/pupils/{make.pupil(school).pk}/guardians/new/", said)

    maria.refresh_from_db()
    assert maria.telephone == "0123"


def test_adding_a_known_guardian_again_does_not_rename_them(as_):
    school = make.school()
    maria = make.guardian(school, email="maria@example.org", name="Maria Okafor")
    pupil = make.pupil(school)
    client = as_(make.staff(Role.TEACHER, school))

    client.post(f"/s/{school.slug}/pupils/{pupil.pk}/guardians/new/", {"name": "M.", "email": "maria@example.org"})

    maria.refresh_from_db()
    assert maria.name == "Maria Okafor"


@pytest.mark.parametrize(
    ("email", "telephone", "reached"),
    [
        ("", "", None),
        ("a@example.org", "", "a@example.org"),
        ("", "0123", "0123"),
        ("a@example.org", "0123", "a@example.org, 0123"),
    ],
)
def test_a_guardian_has_an_address_a_number_or_both(as_, email, telephone, reached):
    school = make.school()
    pupil = make.pupil(school)
    client = as_(make.staff(Role.TEACHER, school))

    answer = client.post(
        f"/s/{school.slug}/pupils/{pupil.pk}/guardians/new/", {"name": "M", "email": email, "telephone": telephone}
    )

    assert [one.reached for one in Guardian.objects.all()] == ([reached] if reached else [])
    if reached is None:
        assert answer.context["form"].errors == {"email": [NO_CONTACT]}


def test_a_guardian_may_not_take_anothers_address(as_):
    school = make.school()
    make.guardian(school, email="taken@example.org")
    ours = make.guardian(school, email="ours@example.org")
    client = as_(make.staff(Role.TEACHER, school))

    answer = client.post(f"/s/{school.slug}/guardians/{ours.pk}/", {"name": "Ours", "email": "taken@example.org"})

    assert "A guardian with this e-mail address is already on record." in answer.content.decode()


def test_a_guardian_stops_answering_for_a_pupil_who_is_unticked(as_):
    school = make.school()
    guardian = make.guardian(school, email="g@example.org")
    kept, gone = make.pupil(school, guardian), make.pupil(school, guardian)
    client = as_(make.staff(Role.TEACHER, school))

    client.post(
        f"/s/{school.slug}/guardians/{guardian.pk}/",
        {"name": "G", "email": "g@example.org", "pupils": [str(kept.pk)]},
    )

    assert list(guardian.pupils.all()) == [kept]
    assert not gone.guardians.exists()


def test_a_new_address_of_a_guardian_leaves_the_old_account_outside(as_):
    school = make.school()
    guardian = make.guardian(school, email="old@example.org")
    old = guardian.user
    pupil = make.pupil(school, guardian)
    client = as_(make.staff(Role.TEACHER, school))

    client.post(
        f"/s/{school.slug}/guardians/{guardian.pk}/",
        {"name": "G", "email": "new@example.org", "pupils": [str(pupil.pk)]},
    )

    guardian.refresh_from_db()
    assert guardian.user.email == "new@example.org"
    assert not Pupil.objects.answered_for_by(old).exists()


def test_pupils_are_found_by_name_class_and_id_and_only_at_this_school(as_):
    school, other = make.school(), make.school()
    make.pupil(school, name="Ada Okafor", group="Junior band", pupil_id="P-7")
    make.pupil(school, name="Elsa Lindgren", group="Orchestra", pupil_id="P-8")
    make.pupil(other, name="Ada Other")
    client = as_(make.staff(Role.TEACHER, school))

    def names(words):
        page = client.get(f"/s/{school.slug}/pupils/", {"q": words}).content.decode()
        return [name for name in ("Ada Okafor", "Elsa Lindgren", "Ada Other") if name in page]

    assert names("") == ["Ada Okafor", "Elsa Lindgren"]
    assert names("ada") == ["Ada Okafor"]
    assert names("orchestra") == ["Elsa Lindgren"]
    assert names("p-7") == ["Ada Okafor"]
    assert names("ada orchestra") == []


@pytest.mark.parametrize("rows", [1, 3, 20])
def test_the_pupils_list_asks_the_same_number_of_questions_whatever_its_length(as_, rows, django_assert_num_queries):
    school = make.school()
    for _ in range(rows):
        make.pupil(school, make.guardian(school))
    client = as_(make.staff(Role.TEACHER, school))

    with django_assert_num_queries(PUPILS_QUERIES):
        client.get(f"/s/{school.slug}/pupils/")


# Session, account, seat, how many, keys, rows, guardians, loans, who leaves; what the masthead asks is in there.
PUPILS_QUERIES = 9


@pytest.mark.parametrize("rows", [1, 3])
def test_the_list_of_staff_asks_the_same_number_of_questions_however_many_staff(as_, rows, django_assert_num_queries):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    for _ in range(rows - 1):
        make.staff(Role.TEACHER, school)
    client = as_(head)

    with django_assert_num_queries(4):  # session, account, seat, staff
        assert len(client.get(f"/s/{school.slug}/settings/staff/").context["posts"]) == rows


def test_names_in_any_script_are_kept_as_written(as_):
    school = make.school()
    client = as_(make.staff(Role.TEACHER, school))
    name = "ليلى حداد 🎺 Zoë"

    client.post(f"/s/{school.slug}/pupils/new/", {"name": name})

    assert Pupil.objects.get().name == name
    assert name in client.get(f"/s/{school.slug}/pupils/").content.decode()


@pytest.mark.parametrize(
    "query", ["?page=999", "?page=x", "?sort=nonsense", "?sort=-year", "?q=%00", "?q=" + "x" * 500]
)
def test_nonsense_in_the_address_of_the_pupils_list_does_no_harm(as_, query):
    school = make.school()
    make.pupil(school)

    assert as_(make.staff(Role.TEACHER, school)).get(f"/s/{school.slug}/pupils/{query}").status_code == 200


def test_a_head_appoints_a_person_who_can_then_ask_for_a_code(as_):
    school = make.school()
    client = as_(make.staff(Role.HEAD, school))

    client.post(f"/s/{school.slug}/settings/staff/new/", {"name": "Tom", "email": "tom@example.org", "role": "teacher"})

    post = Post.objects.get(user__email="tom@example.org")
    assert (post.school, post.role) == (school, "teacher")
    as_(None).post("/account/code/", {"email": "tom@example.org"})
    assert [letter.to for letter in mail.outbox] == [["tom@example.org"]]


def test_a_person_has_one_post_a_school(as_):
    school = make.school()
    make.staff(Role.TEACHER, school, email="tom@example.org", name="Tom")
    client = as_(make.staff(Role.HEAD, school))

    answer = client.post(
        f"/s/{school.slug}/settings/staff/new/", {"name": "Tom", "email": "tom@example.org", "role": "technician"}
    )

    assert f"Tom already has a post at {school}. Change that one." in answer.content.decode()


def test_a_school_keeps_its_last_head(as_):
    school = make.school()
    head, _ = make.staff(Role.HEAD, school), make.staff(Role.HEAD, make.school())
    client = as_(head)

    answer = client.post(f"/s/{school.slug}/settings/staff/{head.posts.get().pk}/", {"role": "teacher"})

    assert "A school keeps at least one head." in answer.content.decode()
    assert head.posts.get().role == "head"


def test_a_head_cannot_make_a_service_head(as_):
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)
    client = as_(make.staff(Role.HEAD, school))

    answer = client.post(f"/s/{school.slug}/settings/staff/{teacher.posts.get().pk}/", {"role": "service"})

    assert answer.status_code == 422
    assert teacher.posts.get().role == "teacher"


def test_giving_up_ones_own_post_leads_home(as_):
    school = make.school()
    make.staff(Role.HEAD, school)
    leaving = make.staff(Role.HEAD, school)

    client, page = as_(leaving), f"/s/{school.slug}/settings/staff/{leaving.posts.get().pk}/"
    assert "optional" not in client.get(page).content.decode()
    answer = client.post(page, {"role": "none"})

    assert answer.url == "/"
    assert not leaving.posts.exists()


@pytest.mark.parametrize(
    ("subject", "said", "sentence"),
    [
        ("school", {"name": "New", "currency": "eur"}, "Use the three capital letters of ISO 4217, like EUR."),
        ("lending", {"loan_days": "0"}, "Nothing below 1 is possible here."),
    ],
)
def test_settings_are_refused_with_a_sentence_beside_the_field(as_, subject, said, sentence):
    school = make.school(name="Alder Row")

    answer = as_(make.staff(Role.HEAD, school)).post(f"/s/{school.slug}/settings/{subject}/", said)

    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    school.refresh_from_db()
    assert school.name == "Alder Row"


def test_an_empty_site_is_opened_for_its_first_school():
    call_command("begin", school="Alder Row School", head="Ines", email="Ines@example.org", verbosity=0)

    school = School.objects.get()
    assert (school.slug, school.posts.get().role, school.posts.get().user.email) == (
        "alder-row-school",
        "head",
        "ines@example.org",
    )


def test_a_service_head_opens_several_schools_and_chooses_between_them(as_):
    for name in ("Alder Row School", "Birch Lane School"):
        call_command("begin", school=name, head="Ravi", email="ravi@example.org", service=True, verbosity=0)
    make.school(name="Cedar School")
    ravi = User.objects.get()

    page = as_(ravi).get("/").content.decode()

    assert [post.role for post in ravi.posts.all()] == ["service", "service"]
    assert "/s/alder-row-school/" in page
    assert "/s/birch-lane-school/" in page
    assert "Cedar School" not in page


def test_a_school_with_a_head_of_its_own_gets_a_service_head_by_the_same_command_once():
    call_command("begin", school="Alder Row School", head="Ines", email="ines@example.org", verbosity=0)
    more = {"school": "Alder Row School", "head": "Ravi", "email": "ravi@example.org", "service": True}

    call_command("begin", **more, stdout=(told := StringIO()))

    school = School.objects.get()
    assert told.getvalue() == "Ravi is a service head of Alder Row School from now on.\n"
    assert {(post.user.name, post.role) for post in school.posts.all()} == {("Ines", "head"), ("Ravi", "service")}
    assert Act.objects.filter(school=school, deed=Deed.POST_GIVEN, by=None).count() == 1
    with pytest.raises(CommandError, match="already has a post"):
        call_command("begin", **more)


def test_opening_the_same_school_again_is_refused_with_what_to_do():
    call_command("begin", school="Alder Row School", head="Ines", email="ines@example.org", verbosity=0)

    with pytest.raises(CommandError, match=r"A school stands at /s/alder-row-school/ already\..* --slug"):
        call_command("begin", school="Alder Row School", head="Tom", email="tom@example.org", verbosity=0)

    assert School.objects.get().posts.count() == 1


def test_a_school_without_a_name_is_refused_by_the_name_of_the_option():
    with pytest.raises(CommandError, match=r"^--school: "):
        call_command("begin", school="", head="Ines", email="ines@example.org", verbosity=0)
    with pytest.raises(CommandError, match=r"^--head: "):
        call_command("begin", school="Alder Row School", head="", email="ines@example.org", verbosity=0)


@pytest.mark.parametrize("email", ["", "no address"])
def test_a_school_is_not_opened_for_somebody_who_cannot_be_written_to(email):
    with pytest.raises(CommandError, match=r"^--email: "):
        call_command("begin", school="Alder Row School", head="Ines", email=email, verbosity=0)
    assert not School.objects.exists()


@pytest.mark.parametrize(
    ("asked", "leads_to"),
    [
        ("/s/{slug}/loans/issue/?horn=1", "/s/{slug}/loans/issue/?horn=1"),
        ("https://evil.example/", None),
        ("//evil.example", None),
    ],
)
def test_adding_a_guardian_leads_back_to_where_they_were_missing_but_never_off_the_site(as_, asked, leads_to):
    school = make.school()
    pupil = make.pupil(school)
    client = as_(make.staff(Role.TEACHER, school))

    answer = client.post(
        f"/s/{school.slug}/pupils/{pupil.pk}/guardians/new/?" + urlencode({"next": asked.format(slug=school.slug)}),
        {"name": "Maria", "email": "maria@example.org"},
    )

    assert answer.url == (leads_to or "/s/{slug}/pupils/{pk}/").format(slug=school.slug, pk=pupil.pk)


def test_which_horn_a_pupil_needs_is_kept_and_nothing_else_is_taken_for_a_need(as_):
    school = make.school()
    pupil = make.pupil(school)
    page = f"/s/{school.slug}/pupils/{pupil.pk}/change/"
    client = as_(make.staff(Role.TEACHER, school))

    good = client.post(page, {"name": "Ada", "needs_wrap": "compact", "needs_kind": "double"})
    bad = client.post(page, {"name": "Ada", "needs_wrap": "because of her hand", "needs_kind": "triple"})

    pupil.refresh_from_db()
    assert (pupil.needs_wrap, pupil.needs_kind) == ("compact", "double")
    assert good.status_code == 302
    assert set(bad.context["form"].errors) == {"needs_wrap", "needs_kind"}


@pytest.mark.parametrize("need", [{"needs_wrap": "oval"}, {"needs_kind": "triple"}])
def test_the_database_refuses_a_need_that_is_none(need):
    pupil = make.pupil(make.school())
    with pytest.raises(IntegrityError), transaction.atomic():
        Pupil.objects.filter(pk=pupil.pk).update(**need)
