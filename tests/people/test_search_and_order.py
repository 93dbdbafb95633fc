"""People are found whatever case and accents are typed, and stand by their family names, on both engines."""

from __future__ import annotations

from importlib import import_module

import pytest
from django.apps import apps
from django.urls import reverse

from fleet.desk.actions.forgetting import forget
from fleet.ground.access import Role
from fleet.lending.actions.pupils import amend, amend_many
from fleet.people.models import Guardian, Pupil, searched
from fleet.people.models.searched import in_order, words_of
from fleet.register.models import Horn
from tests import make

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]


def found(school, words):
    return [pupil.name for pupil in Pupil.objects.having_words(words, school=school).in_order()]


@pytest.mark.parametrize(
    ("typed", "names"),
    [
        ("ömer", ["Ömer Öz"]),
        ("OMER", ["Ömer Öz"]),
        ("öz", ["Ömer Öz"]),
        ("Öz, Ömer", ["Ömer Öz"]),
        ("dang", ["Minh Đặng"]),
        ("ĐẶNG", ["Minh Đặng"]),
        ("gross", ["Ida Groß"]),
        ("GROSS", ["Ida Groß"]),
        ("bläser", ["Ida Groß", "Ömer Öz"]),
        ("blaser ida", ["Ida Groß"]),
        ("ö", ["Ömer Öz"]),
        ("B", ["Ida Groß", "Ömer Öz"]),
        ("đ m", ["Minh Đặng"]),
        ("z", []),
        ("ß", []),
        ("7", ["Ömer Öz"]),
        ("7p", ["Ömer Öz"]),
        ("7p-1", ["Ömer Öz"]),
        ("1", []),
        ("p-1", []),
        ("\0", ["Minh Đặng", "Ida Groß", "Ömer Öz"]),
    ],
)
def test_a_pupil_is_found_without_case_and_accents(typed, names):
    school = make.school()
    make.pupil(school, name="Ömer Öz", group="BLÄSER", pupil_id="7P-1")
    make.pupil(school, name="Ida Groß", group="Bläser")
    make.pupil(school, name="Minh Đặng")
    make.pupil(make.school(), name="Ömer Öz Đặng Groß", group="Bläser")

    assert found(school, typed) == names


def test_six_words_of_a_query_count():
    assert words_of("A b C d E f G") == ["a", "b", "c", "d", "e", "f"]


def test_a_new_name_is_found_and_the_old_one_is_not():
    school, at = make.school(), make.NOW
    by = make.user()
    one, other, third = (make.pupil(school, name=name, group="5b") for name in ("Öl", "Ål", "Ül"))

    amend(pupil=one, changes={"name": "Élan"}, by=by, at=at)
    amend_many({other: {"group": "Übung"}})
    Pupil.objects.bulk_create([Pupil(school=school, name="Ähre")])
    forget(pupil=third, by=by, at=at)

    assert found(school, "elan") == ["Élan"]
    assert found(school, "ol") == []
    assert found(school, "ubung") == ["Ål"]
    assert found(school, "ahre") == ["Ähre"]
    assert found(school, "ul") == []


@pytest.mark.parametrize(
    ("name", "family", "sorted_by"),
    [
        ("Ada Quill", "", "quill0ada"),
        ("Quill", "", "quill"),
        ("", "", ""),
        ("Ada", "Quill", "quill0ada"),
        ("Ömer Çelik-Öz", "", "oz0omer0celik"),
        ("Ana García López", "García López", "garcia0lopez0ana"),
        ("Nguyễn Minh Anh", "Nguyễn", "nguyen0minh0anh"),
        ("Karl Karl", "", "karl0karl"),
        ("Sam Moor Jr.", "", "moor0sam0jr"),
        ("Jr", "", "jr"),
        ("II Moor III", "", "moor0ii0iii"),
        ("Иван Чёрный", "", "черныияя30иван"),
    ],
)
def test_a_name_is_sorted_by_its_family_name(name, family, sorted_by):
    assert in_order(name, family) == sorted_by


def test_ukrainian_names_stand_in_the_order_of_their_alphabet():
    # Letter by letter as the alphabet goes; what a typewriter makes of two signs is one letter.
    names = ["Гук", "Гяур", "Ґава", "Ень", "Єва", "Жук", "Кияшко", "Кіт", "Кїт", "Кйок", "Клен", "Яна"]

    assert sorted(set(names), key=in_order) == names
    assert in_order("Кїт") == in_order("Кі\u0308т")


def test_an_apostrophe_divides_no_name():
    assert [in_order(name) for name in ("Oona O’Neil", "Дем'яненко", "Дем\u02bcяненко")] == [
        "oneil0oona",
        "демяненко",
        "демяненко",
    ]


def test_pupils_and_their_loans_stand_by_family_name(as_):
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)
    answers = make.guardian(school)
    spelled = {"Zeynep Adam": "", "Öykü Ober": "", "Sami Oberon": "", "Ana de la Cruz Marín": "de la Cruz Marín"}
    for name, family in spelled.items():
        pupil = make.pupil(school, answers, name=name, family_name=family, group="5b")
        make.loan(make.horn(school), pupil, teacher)
    by_family = ["Zeynep Adam", "Ana de la Cruz Marín", "Öykü Ober", "Sami Oberon"]
    client = as_(teacher)

    pupils = client.get(f"/s/{school.slug}/pupils/").context["page"]
    loans = client.get(f"/s/{school.slug}/loans/?sort=pupil").context["page"]

    assert [pupil.name for pupil in pupils.rows] == by_family
    assert [loan.pupil.name for loan in loans.rows] == by_family


def test_a_letter_is_found_by_pupil_guardian_address_and_number(as_):
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)
    pupil = make.pupil(school, make.guardian(school, name="Gül Öz"), name="Ömer Öz", group="5b")
    horn = make.horn(school, number="HN-0017")
    letter = make.letter(make.loan(horn, pupil, teacher), address="Gul@Example.org")
    waits = make.letter(make.signature(make.horn(school), pupil, teacher))
    client, page = as_(teacher), reverse("loans:letters", args=(school.slug,))

    def letters(words):
        return sorted(client.get(page, {"q": words}).context["page"].rows, key=lambda found: found.pk)

    for words in ("gul@example.org", "hn17", "ömer HN-0017"):
        assert letters(words) == [letter], words
    for words in ("ÖMER", "Gül", "gül 5B", "", "\0"):
        assert letters(words) == [letter, waits], words
    assert letters("ömer nobody") == []


def test_a_horn_is_found_by_the_class_of_who_has_it(as_):
    school, at = make.school(), make.NOW
    teacher = make.staff(Role.TEACHER, school)
    ada, ben = (make.pupil(school, make.guardian(school), name=name, group="5b") for name in ("Ada", "Ben"))
    mine, theirs = make.horn(school), make.horn(school)
    loan = make.loan(mine, ada, teacher)
    make.loan(theirs, ben, teacher)

    def of(group):
        return {horn.pk for horn in Horn.objects.filter(holder_group=group).having_words(group, school=school)}

    assert of("5b") == {mine.pk, theirs.pk}
    amend(pupil=ada, changes={"group": "Übung"}, by=teacher, at=at)
    amend_many({ben: {"group": "Chor"}})
    assert (of("5b"), of("Übung"), of("Chor")) == (set(), {mine.pk}, {theirs.pk})
    mine.refresh_from_db()
    assert mine.search == mine.searched_in()
    assert loan.pupil_id == ada.pk


def test_what_was_on_record_before_is_filled_in():
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)
    pupil = make.pupil(school, make.guardian(school, name="Gül Öz"), name="Ömer Öz", group="5b")
    horn = make.horn(school, number="HN-0007", place=make.place(school, room="Store"))
    make.loan(horn, pupil, teacher)
    horn.refresh_from_db()
    wanted = (horn.holder_group, horn.search)
    assert wanted[0] == "5b"
    assert "hn7" in wanted[1]
    Horn.objects.filter(pk=horn.pk).update(search="", holder_group="")
    Pupil.objects.update(search="", sorted_by="")
    Guardian.objects.update(search="", sorted_by="")

    import_module("fleet.people.migrations.0011_search_and_order").fill(apps, None)
    import_module("fleet.lending.migrations.0015_class_and_search").fill(apps, None)

    horn.refresh_from_db()
    assert (horn.holder_group, horn.search) == wanted
    assert Pupil.objects.values_list("search", "sorted_by").get() == ("omer oz 5b", "oz0omer")
    assert Guardian.objects.values_list("search", "sorted_by").get() == ("gul oz", "oz0gul")


@pytest.mark.parametrize("sort", ["group", "year"])
def test_pupils_stand_by_class_and_year_as_numbers(as_, sort):
    school = make.school()
    told = [("10", "10a"), ("9", "9b"), ("9", "9a"), ("12", "12")]
    for year, group in told:
        make.pupil(school, name=f"Kim {group}", year=year, group=group)
    listed = as_(make.staff(Role.HEAD, school)).get(f"/s/{school.slug}/pupils/?sort={sort}").context["table"]

    assert [pupil.group for pupil in listed.data] == ["9a", "9b", "10a", "12"]


def test_years_and_classes_of_before_are_put_in_order():
    school = make.school()
    for group in ("10a", "5b"):
        make.pupil(school, year=group[:-1], group=group)
    Pupil.objects.update(year_sorted_by="", group_sorted_by="")

    import_module("fleet.people.migrations.0016_years_and_classes_in_order").fill(apps, None)

    assert [pupil.group for pupil in Pupil.objects.order_by("group_sorted_by")] == ["5b", "10a"]
    assert [pupil.year for pupil in Pupil.objects.order_by("year_sorted_by")] == ["5", "10"]


def test_names_of_before_are_put_in_the_order_of_their_alphabet():
    school = make.school()
    for name in ("Яна", "Ія", "Жук"):
        make.pupil(school, name=name)
    Pupil.objects.update(sorted_by="as before")

    import_module("fleet.people.migrations.0024_names_in_ukrainian_order").fill(apps, None)

    moved = Pupil.objects.exclude(sorted_by="as before").get()
    assert (moved.name, moved.sorted_by) == ("Ія", in_order("Ія"))


def test_people_are_found_by_any_piece_of_three_letters_and_by_shorter_words_alike():
    """The first by an index, the others row by row."""
    before, school, after = make.school(), make.school(), make.school()
    names = ("Ana Lindqvist", "Lin Po", 'Jo "Jay" Öz', "100% Ng", "Under_line")
    # Nor is anybody of a school beside found, be its key less or greater.
    for other in (before, after):
        make.pupil(other, name="Anna Lind Po Öz")
    people = {name: make.pupil(school, name=name) for name in names}
    people["Ana Lindqvist"].name = "Anna Lind"
    people["Ana Lindqvist"].save()

    def found(query: str, *, every: bool) -> list[str]:
        return [
            one.name for one in Pupil.objects.with_words(words_of(query), school=school, every=every).order_by("pk")
        ]

    assert found("lind", every=True) == ["Anna Lind"]
    assert found("qvist", every=True) == []
    assert found("lin", every=True) == ["Anna Lind", "Lin Po", "Under_line"]
    assert found("lin anna", every=True) == ["Anna Lind"]
    assert found("anna und", every=False) == ["Anna Lind", "Under_line"]
    assert found("lin po", every=True) == ["Lin Po"]
    assert found("oz ng", every=False) == ['Jo "Jay" Öz', "100% Ng"]
    assert found('"jay"', every=True) == ['Jo "Jay" Öz']
    assert found("00%", every=True) == ["100% Ng"]
    assert found("r_l", every=True) == ["Under_line"]
    assert found(" ; ", every=False) == found("", every=True) == []


@pytest.mark.parametrize("counted", [0, 1, 1000])
def test_pupils_are_found_by_their_letters_as_row_by_row_however_many_have_them(monkeypatch, counted):
    monkeypatch.setattr(searched, "COUNTED_TO", counted)
    school, other = make.school(), make.school()
    for name, number in (("Işıl Öz", "A-199"), ("Ann O’Hara", ""), ("Anna Lind", "ann7"), ("Lin Po", "100%")):
        make.pupil(school, name=name, group="Band 5a", pupil_id=number)
        make.pupil(other, name=name, group="Band 5a", pupil_id=number)

    typed = ("isil", "ışıl öz", "o'hara", "o’hara", "ann", "ann ban", "ann 5a", "a-1", "100%", "lin p", "zq", "zzz", "")
    typed += ("an", "nn", "öz", "li", "5a", "z ", "'h", "a-", "an nd", "ann q", "o li")
    for query in typed:
        walked = Pupil.objects.having_words(query, walk=True, school=school).in_order()
        assert found(school, query) == [one.name for one in walked], query
    assert found(school, "ann") == ["Anna Lind", "Ann O’Hara"]
    assert found(school, "o'hara") == found(school, "o’hara") == found(school, "oʼhara") == ["Ann O’Hara"]
    assert found(school, "a-1 öz") == ["Işıl Öz"]
    assert found(school, "199") == []


def test_what_was_kept_with_a_printers_apostrophe_is_found_as_what_is_kept_now(school):
    pupil, horn = make.pupil(school, name="Ann O’Hara"), make.horn(school, maker="Mills’")
    Pupil.objects.filter(pk=pupil.pk).update(search="ann o’hara oʼhara")
    Horn.objects.filter(pk=horn.pk).update(search=f" mills’ {horn.search}")

    for app, name in (("people", "0030_apostrophes_alike"), ("register", "0029_apostrophes_alike")):
        import_module(f"fleet.{app}.migrations.{name}").alike(apps, None)

    assert Pupil.objects.get(pk=pupil.pk).search == "ann o'hara o'hara"
    assert list(Horn.objects.having_words("mills’", school=school)) == [horn]
