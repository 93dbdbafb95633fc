"""The field guide on the page, for staff and for families."""

from __future__ import annotations

from django.urls import reverse
from django.utils.translation import gettext, override

from fleet.ground.access import Role
from identify.core.horns.catalogue import catalogue
from tests import make


def test_staff_find_every_kind_and_what_tells_it_from_the_nearest(db, as_):
    school = make.school()
    teacher = make.staff(Role.TEACHER, school)

    listed = as_(teacher).get(reverse("desk:guide", args=[school.slug])).content.decode()
    page = as_(teacher).get(reverse("desk:guide-build", args=[school.slug, "double-full"])).content.decode()

    assert "full double horn in F and B♭" in listed
    assert reverse("desk:guide-build", args=[school.slug, "natural-horn"]) in listed
    assert "Compensating double horn" in page
    assert "This one: <b>longer</b>. That one: <b>much shorter</b>." in page


def test_a_family_reads_the_same_and_a_kind_that_is_unknown_is_not_found(db, as_):
    guardian = make.guardian(make.school())

    page = as_(guardian.user).get(reverse("desk:family-guide-build", args=["mellophone-f"]))

    assert "take the pistons out one at a time" in page.content.decode()
    assert reverse("desk:family-guide") in page.content.decode()
    assert as_(guardian.user).get(reverse("desk:family-guide-build", args=["kazoo"])).status_code == 404


def test_what_is_seldom_read_is_folded_and_where_it_comes_from_is_one_tap_away(db, as_):
    school = make.school()
    horn = make.horn(school, build="mellophone-f", stands_in="F")
    teacher = as_(make.staff(Role.TEACHER, school))

    page = teacher.get(reverse("desk:guide-build", args=[school.slug, "mellophone-f"])).content.decode()
    told = {
        "guide": page,
        "horn": teacher.get(reverse("desk:horn", args=[school.slug, horn.pk])).content.decode(),
        "result": teacher.get(
            reverse("identify:walk", args=[school.slug]), {"valves": "3", "hand": "right", "step": "result"}
        ).content.decode(),
    }

    folds = ["Looking after it", "How it sounds", "Its tubes and slides", "Where this comes from"]
    assert [page.count(f"<summary>{words}</summary>") for words in folds] == [1, 1, 1, 1]
    assert {name: one.count("<summary>Where this comes from</summary>") for name, one in told.items()} == {
        "guide": 1,
        "horn": 1,
        "result": 1,
    }
    assert "How often is common practice, no source." in page
    assert page.count("no French horn") == 1


def test_a_rarer_form_reads_on_from_one_in_german_without_a_comma_between():
    with override("de"):
        said = [gettext(form.form_words) for build in catalogue().values() for form in build.forms if form.form_words]
    assert "mit Stopfzug" in said
    assert [one for one in said if one.startswith(("das ", "dessen "))] == []


def test_a_chart_names_its_drawing_in_a_teachers_words(db, as_):
    school = make.school()
    horn = make.horn(school, build="single-f", stands_in="F")

    page = as_(make.staff(Role.TEACHER, school)).get(reverse("desk:chart", args=[school.slug, horn.pk]))

    assert "<h2>Its tubes and slides</h2>" in page.content.decode()
    assert "Unrolled" not in page.content.decode()


def test_kinds_lie_folded_by_family_until_words_find_some(db, as_):
    school = make.school()
    teacher = as_(make.staff(Role.TEACHER, school))
    at = reverse("desk:guide", args=[school.slug])

    every, some, none = (teacher.get(at, {"q": words}).content.decode() for words in ("", "marching in G", "kazoo"))

    groups, opened = '<ul class="builds">', '<details class="fold unfolds" open>'
    assert (every.count(groups), every.count(opened)) == (6, 0)
    assert (some.count(groups), some.count(opened)) == (1, 1)
    assert "marching mellophone in G" in some
    assert "/guide/marching-horn-bb/" not in some
    assert "No kind of horn has these words." in none


def test_a_family_finds_a_kind_by_words_too(db, as_):
    guardian = make.guardian(make.school())

    page = as_(guardian.user).get(reverse("desk:family-guide"), {"q": "vienna"}).content.decode()

    assert reverse("desk:family-guide-build", args=["vienna-f"]) in page
    assert reverse("desk:family-guide-build", args=["single-f"]) not in page
