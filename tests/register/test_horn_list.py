"""The list of horns: what it finds, in which order, in how many queries, and that it never falls over."""

from __future__ import annotations

import re
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.ground.access import Role
from fleet.ground.paging import PAGE
from fleet.register.models import Horn
from fleet.register.queries.filters import HornFilters
from fleet.register.queries.listing import page_of
from tests import make
from tests.pages import folded

pytestmark = [pytest.mark.both_engines, pytest.mark.django_db]


@pytest.fixture
def school():
    """A school, with another one beside it whose horns must never show."""
    other = make.school()
    make.horn(other, number="LEAK-1", maker="Leaky Brass", build="double-full", stands_in="Bb", holder_name="Ann Other")
    return make.school()


def listed(client, school, query=""):
    answer = client.get(f"/s/{school.slug}/horns/{query}")
    assert answer.status_code == 200
    return [horn.number for horn in answer.context["page"].rows], answer.content.decode()


def test_an_empty_register_says_what_comes_first(as_, school):
    numbers, text = listed(as_(make.staff(Role.HEAD, school)), school)

    assert numbers == []
    assert "Identify the first horn" in text
    assert f'href="/s/{school.slug}/identify/"' in text


@pytest.mark.parametrize("role", [Role.HEAD, Role.TEACHER, Role.TECHNICIAN])
def test_staff_see_their_own_school_and_no_other(as_, school, role):
    make.horn(school, number="HN-0001")

    numbers, text = listed(as_(make.staff(role, school)), school)

    assert numbers == ["HN-0001"]
    assert "LEAK" not in text


def test_a_horn_that_was_never_checked_says_so_instead_of_a_grade(as_, school):
    technician = make.staff(Role.TECHNICIAN, school)
    make.horn(school)
    make.check(make.horn(school), technician)

    page = as_(technician).get(f"/s/{school.slug}/horns/").content.decode()

    assert page.count('<span class="quiet">not checked yet</span>') == 1
    assert page.count("grade 1, </span>plays well") == 1


def test_numbers_are_sorted_as_people_count(as_, school):
    for number in ("HN-10", "HN-9", "A-2", "HN-100", "hn-11"):
        make.horn(school, number=number)
    client = as_(make.staff(Role.HEAD, school))

    assert listed(client, school)[0] == ["A-2", "HN-9", "HN-10", "hn-11", "HN-100"]
    assert listed(client, school, "?sort=-number")[0] == ["HN-100", "hn-11", "HN-10", "HN-9", "A-2"]


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("ünk", True),  # accents and case do not matter, on either side
        ("unkn", True),
        ("42", True),  # two digits: the beginning of a word, and the number's digits are one
        ("0042", True),
        ("hn-0042", True),
        ("hn42", True),  # without nought and dash
        ("hn-42", True),
        ("HN 42", True),
        ("hn43", False),
        ("wind band", True),  # the class of who has it
        ("store door", True),  # its place
        ("full double", True),
        ("DOUBLE-FULL", True),
        ("B♭", True),
        ("Bb", True),
        ("li", True),  # the beginning of the holder's family name
        ("l", True),  # so is one letter
        ("f", True),
        ("🎺", True),
        ("e", False),  # and within a word not looked for
        ("nd", False),
        ("محمد", True),
        ("full single", False),
        ("%", False),
        ("_", False),
        ('"', False),
        ("' OR 1=1 --", False),
        ("OR", False),
        ("double NOT full", False),
        ("\\", False),
        ("leaky", False),
    ],
)
def test_search_finds_every_word_and_nothing_else(as_, school, query, found):
    make.horn(
        school,
        number="HN-0042",
        maker="Ûnknown & Söhne",
        model="🎺 محمد",
        build="double-full",
        stands_in="Bb",
        holder_name="Bo Li",
        holder_group="Wind Band",
        place=make.place(school, room="Störe", shelf="Door"),
    )
    client = as_(make.staff(Role.TEACHER, school))

    answer = client.get(f"/s/{school.slug}/horns/", {"q": query})

    assert [horn.number for horn in answer.context["page"].rows] == (["HN-0042"] if found else [])
    walked = Horn.objects.having_words(query, walk=True, school=school)
    assert walked.count() == (1 if found else 0)


def test_a_changed_horn_is_found_by_its_new_words_only(school):
    horn = make.horn(school, maker="Before Brass")
    horn.maker = "After Brass"
    horn.save(update_fields=["maker"])

    assert Horn.objects.having_words("after", school=school).count() == 1
    assert Horn.objects.having_words("before", school=school).count() == 0


def test_each_filter_leaves_only_what_it_says(as_, school):
    shelf = make.place(school)
    rows = {
        "build=double-full": make.horn(school, build="double-full", stands_in="F"),
        "stands_in=Bb": make.horn(school, build="single-bb", stands_in="Bb"),
        "wrap=compact": make.horn(school, wrap="compact"),
        "where=withdrawn": make.horn(school, withdrawn_on=date(2026, 1, 1)),
        "where=out&group=5b": make.horn(school, holder_name="Bo", holder_group="5b"),
        "where=workshop": make.horn(school, on_bench=True),
        "grade=3": make.horn(school, grade=3),
        "identified=no": make.horn(school, build=""),
        f"place={shelf.pk}": make.horn(school, place=shelf),
        "group=Band": make.horn(school, holder_name="Cy", holder_group="Band"),
    }
    client = as_(make.staff(Role.TECHNICIAN, school))

    for query, horn in rows.items():
        assert listed(client, school, f"?{query}")[0] == [horn.number], query
    # Ten horns, of which one is graded, one not identified, and one withdrawn, which only its own filter shows.
    assert len(listed(client, school, "?grade=none")[0]) == 8
    assert len(listed(client, school, "?identified=yes")[0]) == 8


@pytest.mark.parametrize(
    ("query", "said", "link"),
    [
        ("", "2 horns. Beside them", "?where=withdrawn"),
        ("?q=HN-&sort=-number", "2 horns. Beside them", "?q=HN-&amp;sort=-number&amp;where=withdrawn"),
        ("?q=HN-3", "No horn is like that.", "?q=HN-3&amp;where=withdrawn"),
        ("?grade=1", "1 horn. Beside it", "?grade=1&amp;where=withdrawn"),
    ],
)
def test_a_withdrawn_horn_is_not_counted_among_what_the_school_has_and_one_tap_away(as_, school, query, said, link):
    make.horn(school, number="HN-1", grade=1)
    make.horn(school, number="HN-2")
    make.horn(school, number="HN-3", grade=1, withdrawn_on=date(2026, 1, 1))
    make.horn(make.school(), number="HN-4", grade=1, withdrawn_on=date(2026, 1, 1))
    client = as_(make.staff(Role.TECHNICIAN, school))

    text = folded(client.get(f"/s/{school.slug}/horns/{query}"))

    assert said in text
    assert f'<a href="{link}">1 withdrawn</a>' in text
    assert "HN-3</a>" not in text
    text = folded(client.get(f"/s/{school.slug}/horns/{link.replace('&amp;', '&')}"))
    assert "1 horn. " in text
    assert "HN-3</a>" in text


def test_a_register_whose_horns_were_all_withdrawn_is_not_empty(as_, school):
    make.horn(school, withdrawn_on=date(2026, 1, 1))

    text = folded(as_(make.staff(Role.TECHNICIAN, school)).get(f"/s/{school.slug}/horns/"))

    assert "No horns are on the register yet" not in text
    assert "1 withdrawn</a>" in text


def test_filters_and_search_work_together_and_stay_in_the_address(as_, school):
    make.horn(school, number="HN-1", maker="Alpha", grade=1)
    make.horn(school, number="HN-2", maker="Alpha", grade=2)
    make.horn(school, number="HN-3", maker="Beta", grade=2)

    numbers, text = listed(as_(make.staff(Role.HEAD, school)), school, "?q=alpha&grade=2&sort=-grade")

    assert numbers == ["HN-2"]
    assert 'value="alpha"' in text
    assert '<option value="2" selected>' in text
    assert "?q=alpha&amp;grade=2&amp;sort=number" in text


def test_a_place_of_another_school_finds_nothing(as_, school):
    other = make.school()
    theirs = make.place(other)
    make.horn(other, place=theirs)

    numbers, text = listed(as_(make.staff(Role.HEAD, school)), school, f"?place={theirs.pk}")

    assert numbers == []
    assert theirs.room not in text


@pytest.mark.parametrize(
    "query",
    [
        "?sort=nothing",
        "?sort=--number",
        "?sort=-",
        "?sort=school__posts",
        "?page=-1",
        "?page=0",
        "?page=abc",
        "?page=99999999999999999999",
        "?page=²",
        "?grade=99",
        "?grade=%00",
        "?build=no-such-build",
        "?stands_in=H",
        "?where=moon",
        "?wrap=1",
        "?identified=maybe",
        "?place=abc",
        "?place=-1",
        "?place=99999999999999999999999",
        "?q=%00",
        "?q=" + "x" * 5000,
        "?q=%F0%28%8C%28",
        "?colour=blue",
        "?q=a&q=b&sort=number&sort=build",
    ],
)
def test_nonsense_in_the_address_is_left_out(as_, school, query):
    make.horn(school, number="HN-0001", maker="bx")

    numbers, _ = listed(as_(make.staff(Role.HEAD, school)), school, query)

    assert numbers in (["HN-0001"], [])


def test_what_was_left_out_is_said(as_, school):
    make.horn(school, number="HN-0001")

    numbers, text = listed(as_(make.staff(Role.HEAD, school)), school, "?grade=99&where=moon")

    assert numbers == ["HN-0001"]
    assert "made no sense and was left out" in text


def test_horns_never_checked_come_first_and_undated_last(as_, school):
    make.horn(school, number="HN-1", checked_on=date(2026, 5, 1), holder_name="A", due_on=date(2027, 1, 1))
    make.horn(school, number="HN-2")
    make.horn(school, number="HN-3", checked_on=date(2025, 5, 1), holder_name="B", due_on=date(2026, 12, 1))
    client = as_(make.staff(Role.HEAD, school))

    assert listed(client, school, "?sort=checked")[0] == ["HN-2", "HN-3", "HN-1"]
    assert listed(client, school, "?sort=-checked")[0] == ["HN-1", "HN-3", "HN-2"]
    assert listed(client, school, "?sort=due")[0] == ["HN-3", "HN-1", "HN-2"]
    assert listed(client, school, "?sort=-due")[0] == ["HN-1", "HN-3", "HN-2"]


@pytest.mark.parametrize(
    "sort", ["number", "build", "stands_in", "where", "holder", "due", "grade", "checked", "place"]
)
@pytest.mark.parametrize("sign", ["", "-"])
def test_pages_of_every_sort_show_each_horn_once(as_, school, sort, sign):
    for place in range(60):
        make.horn(school, number=f"HN-{place}", grade=place % 4 + 1)
    client = as_(make.staff(Role.HEAD, school))

    pages = [listed(client, school, f"?sort={sign}{sort}&page={page}")[0] for page in (1, 2, 3)]

    assert [len(page) for page in pages] == [25, 25, 10]
    assert len({number for page in pages for number in page}) == 60


@pytest.mark.parametrize(
    ("query", "many"), [("", 7), ("?grade=1&sort=-checked", 7), ("?where=out", 5), ("?q=single", 7), ("?q=zz-no", 5)]
)
def test_the_list_takes_as_many_queries_however_many_rows(as_, school, query, many):
    """Session, account, seat, how many, the keys, the rows, and what stands beside them; words are looked up before."""
    client = as_(make.staff(Role.HEAD, school))
    client.get(f"/s/{school.slug}/horns/")  # Moves the end of the session on, which is due once a minute.
    counts = []
    for rows in (1, 3, 25, 60):
        while Horn.objects.at(school).count() < rows:
            make.horn(school, place=make.place(school), grade=1)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            client.get(f"/s/{school.slug}/horns/{query}")
        counts.append(len(queries))

    assert counts == [many] * 4


def test_more_than_a_thousand_are_not_counted(as_, school):
    Horn.objects.bulk_create(
        Horn(school=school, number=f"HN-{place}", build="single-f", stands_in="F", maker="Common")
        for place in range(1, 1031)
    )
    make.horn(school, number="HN-9999", maker="Rare")
    client = as_(make.staff(Role.HEAD, school))

    for query in ("", "&q=single", "&build=single-f", "&q=sing&sort=-number"):
        numbers, text = listed(client, school, f"?page=2{query}")
        assert len(numbers) == 25
        assert "More than 1,000 horns; this is 26 to 50." in text
    assert listed(client, school, "?q=rare")[0] == ["HN-9999"]
    # The pages beyond the thousandth are there too.
    assert listed(client, school, "?page=41")[0] == [f"HN-{place}" for place in range(1001, 1026)]
    assert listed(client, school, "?page=42")[0] == [*(f"HN-{place}" for place in range(1026, 1031)), "HN-9999"]
    # Past the end is the last page.
    for far in ("43", "400", "999999999"):
        numbers, text = listed(client, school, f"?page={far}")
        assert (len(numbers), "More than 1,000 horns; this is 1026 to 1031." in text) == (6, True)
    assert listed(client, school, "?page=42&q=single")[0] == [
        *(f"HN-{place}" for place in range(1026, 1031)),
        "HN-9999",
    ]


def test_exactly_a_thousand_are_counted(school):
    Horn.objects.bulk_create(Horn(school=school, number=f"HN-{place}") for place in range(1000))

    page = page_of(school, HornFilters({}, school=school), sort="number", number=1)

    assert (page.total, page.more) == (1000, False)


def test_names_are_shown_as_text(as_, school):
    make.horn(school, maker="<script>alert(1)</script>", holder_name='<b>"Bo"</b>', number="HN-1")

    _, text = listed(as_(make.staff(Role.HEAD, school)), school, '?q="><script>alert(1)</script>')

    assert "<script>alert" not in text


def test_every_choice_of_the_filters_has_its_label_and_shows_what_was_chosen(as_, school):
    make.horn(school, place=make.place(school))
    make.horn(school, holder_name="Bo", holder_group="5b")

    _, text = listed(as_(make.staff(Role.HEAD, school)), school, "?where=cupboard&build=single-f")

    labelled = re.findall(r'<label\s+for="([^"]+)"\s*>', text)
    chosen = re.findall(r'<select[^>]* id="([^"]+)"|<select id="([^"]+)"', text)
    names = [one or other for one, other in chosen]
    assert sorted(names) == sorted(
        f"id_{name}"
        for name in ("where", "build", "stands_in", "wrap", "grade", "identified", "ready", "owed", "place", "group")
    )
    assert set(names) <= set(labelled)
    assert '<option value="cupboard" selected>in its place</option>' in text
    assert '<option value="single-f" selected>single horn in F</option>' in text


def test_a_search_of_more_than_a_page_begins_with_the_first_in_order(as_, school):
    for n in reversed(range(PAGE + 5)):
        make.horn(school, number=f"HN-{n:03d}", maker="Alder")
    client = as_(make.staff(Role.HEAD, school))

    numbers = [f"HN-{n:03d}" for n in range(PAGE + 5)]
    assert listed(client, school, "?q=alder")[0] == numbers[:PAGE]
    assert listed(client, school, "?q=alder&page=2")[0] == numbers[PAGE:]
