"""The look, as far as it can be computed: contrast, the page's policies, what every page carries."""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.core.paginator import Paginator
from django.template import Context, Template
from django.test import RequestFactory

from fleet.ground.access import Role
from fleet.ground.paging import OnePage
from fleet.people.queries.seats import Seat
from fleet.templatetags.fleet_tags import pages
from fleet.workshop.models import Finding
from fleet.workshop.pages.badges import severity_badge
from tests import make
from tests.pages import folded

ROOT = Path(__file__).resolve().parent.parent
TEMPLATES = ROOT / "templates"
# print.css is black on white; its few colours are not the palette's.
# Ours, not those that a site which ran here has gathered into its data.
SHEETS = sorted(
    sheet
    for folder in ("fleet", "identify")
    for sheet in (ROOT / folder).glob("static/*/*.css")
    if sheet.name != "print.css"
)
PALETTE = ROOT / "fleet/static/fleet/cupboard.css"

# Grounds that text without a ground of its own may lie on.
GROUNDS = ("paper", "leaf", "shade")
# Inks that may lie on a ground which sets no ink of its own.
INKS = ("ink", "quiet", "link")


def style(sheet: Path) -> str:
    return re.sub(r"/\*.*?\*/", "", sheet.read_text(encoding="utf-8"), flags=re.S)


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb, as WCAG 2.2 defines it."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def palettes() -> dict[str, dict[str, str]]:
    """The colours in each mode: dark ones lie over the light ones."""
    blocks = re.findall(r":root\s*\{(.*?)\}", style(PALETTE), flags=re.S)
    assert len(blocks) == 2, "one palette and its dark counterpart"
    light, dark = (dict(re.findall(r"--([a-z-]+):\s*(#[0-9a-f]{6});", block)) for block in blocks)
    assert set(light) - set(dark) == {"square"}
    return {"light": light, "dark": light | dark}


def pairs() -> set[tuple[str, str]]:
    """Every (ink, ground) the stylesheets may bring together."""
    found = set(product(INKS, GROUNDS))
    for sheet in SHEETS:
        for body in re.findall(r"\{([^{}]*)\}", style(sheet)):
            ink = re.search(r"(?:^|[;\s])color:\s*var\(--([a-z-]+)\)", body)
            ground = re.search(r"background(?:-color)?:\s*var\(--([a-z-]+)\)", body)
            if ink and ground:
                found.add((ink[1], ground[1]))
            elif ink:
                found |= {(ink[1], each) for each in GROUNDS}
            elif ground and ground[1] != "square" and 'content: ""' not in body:
                found |= {(each, ground[1]) for each in INKS}
    return found


def test_black_on_white_has_the_contrast_that_wcag_names():
    # WCAG 2.2, "contrast ratio": ratios run from 1 to 21.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("mode", ["light", "dark"])
def test_every_pair_of_ink_and_ground_reads_well(mode):
    # WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1 for text.
    colours = palettes()[mode]
    poor = {
        pair: round(contrast(colours[pair[0]], colours[pair[1]]), 2)
        for pair in pairs()
        if contrast(colours[pair[0]], colours[pair[1]]) < 4.5
    }
    assert poor == {}
    assert PALETTE in SHEETS
    assert ("on-lining", "lining") in pairs()


@pytest.mark.parametrize("mode", ["light", "dark"])
@pytest.mark.parametrize("edge", ["rim", "focus", "lining"])
def test_edges_of_controls_and_the_focus_ring_stand_out(mode, edge):
    # WCAG 2.2, success criterion 1.4.11: at least 3 to 1 for what marks a control.
    colours = palettes()[mode]
    assert min(contrast(colours[edge], colours[ground]) for ground in GROUNDS) >= 3


def test_colours_stand_only_in_the_palette():
    for sheet in SHEETS:
        rules = re.sub(r":root\s*\{.*?\}", "", style(sheet), flags=re.S)
        assert re.findall(r"#[0-9a-fA-F]{3,8}\b|(?:rgba?|hsla?)\((?!0 0 0 /)", rules) == []


def test_no_template_carries_script_or_style_inside_it():
    inside = re.compile(r"<style|\sstyle=|<script(?![^>]*\ssrc=)|\son[a-z]+=\"|javascript:|hx-on", re.I)
    guilty = [
        str(page.relative_to(TEMPLATES))
        for page in TEMPLATES.rglob("*.html")
        if inside.search(re.sub(r"<script[^>]*type=\"application/json\"", "", page.read_text(encoding="utf-8")))
    ]
    assert guilty == []


def test_no_template_fetches_from_elsewhere():
    guilty = [
        str(page.relative_to(TEMPLATES))
        for page in TEMPLATES.rglob("*.html")
        if re.search(r"(?:src|href)=[\"'](?:https?:)?//", page.read_text(encoding="utf-8"))
    ]
    assert guilty == []


@pytest.mark.django_db
def test_everything_a_page_links_to_is_there(client):
    answer = client.get("/account/sign-in/")

    files = re.findall(r"(?:href|src)=\"/static/([^\"]+)\"", answer.content.decode())

    assert len(files) >= 5
    assert [name for name in files if finders.find(name) is None] == []


@pytest.mark.django_db
def test_a_page_states_its_policies(client):
    policy = client.get("/account/sign-in/").headers["Content-Security-Policy"]

    assert "default-src 'self'" in policy
    assert "unsafe" not in policy


@pytest.mark.parametrize("severity", Finding.Severity.values)
def test_a_badge_says_the_severity_in_the_words_of_the_workshop(severity):
    assert str(Finding.Severity(severity).label) in severity_badge(severity)


def test_the_masthead_names_school_person_and_role_and_signs_out_by_form(db, as_):
    school = make.school(name="Hill Road")
    page = as_(make.staff(Role.HEAD, school, name="Ada Reed")).get(f"/s/{school.slug}/").content.decode()

    assert "Hill Road" in page
    assert "Ada Reed" in page
    assert "department head" in page
    assert re.search(r'<form method="post" action="/account/sign-out/">.*?csrfmiddlewaretoken', page, re.S)
    assert "Go to another school" not in page


def test_the_title_of_a_place_and_of_a_part_says_which(db, as_):
    school = make.school(name="Hill Road")
    client = as_(make.staff(Role.HEAD, school))
    pages = {
        f"places/{make.place(school, room='Store', shelf='top').pk}/": "Store, top · Hill Road",
        f"parts/{make.part(school, name='Bumper').pk}/": "Bumper · Hill Road",
    }

    for page, title in pages.items():
        assert f"<title> {title} </title>" in folded(client.get(f"/s/{school.slug}/{page}"))


def test_the_masthead_offers_another_school_to_somebody_with_two_posts(db, as_):
    school, other = make.school(), make.school()
    person = make.staff(Role.SERVICE, school)
    person.posts.create(school=other, role="service")

    assert "Go to another school" in as_(person).get(f"/s/{school.slug}/").content.decode()


def in_line(page: str) -> list[tuple[str, str, str]]:
    """(address, marked or not, label) of each page that the masthead names."""
    line = page[page.index('<nav aria-label="Pages"') : page.index("</nav>")]
    return re.findall(r'<a href="([^"]+)"( aria-current="page")?>([^<]+)</a>', line)


@pytest.mark.parametrize(
    ("role", "named"),
    [
        (Role.HEAD, "Today Horns Identify Loans Workshop Pupils Count Prints Settings"),
        (Role.TEACHER, "Today Horns Identify Loans Workshop Pupils Count Prints"),
        (Role.TECHNICIAN, "Today Horns Identify Loans Workshop Count Prints"),
    ],
)
def test_the_masthead_names_the_pages_that_this_person_may_read(db, as_, role, named):
    school = make.school()
    browser = as_(make.staff(role, school))

    line = in_line(folded(browser.get(f"/s/{school.slug}/")))

    assert " ".join(label for _, _, label in line) == named
    assert [browser.get(address).status_code for address, _, _ in line] == [200] * len(line)


@pytest.mark.parametrize(
    ("where", "marked"),
    [
        ("", ["Today"]),
        ("prints/", ["Prints"]),
        ("horns/1/", []),
        ("horns/", ["Horns"]),
        ("places/", ["Horns"]),
        ("jobs/1/", ["Workshop"]),
        ("pupils/", ["Pupils"]),
        ("pupils/new/", ["Pupils"]),
        ("settings/", ["Settings"]),
        ("settings/staff/new/", ["Settings"]),
    ],
)
def test_the_masthead_marks_the_page_we_are_in_and_no_other(db, as_, where, marked):
    school = make.school()
    head = make.staff(Role.HEAD, school)
    make.job(make.horn(school, pk=1), head, pk=1)

    line = in_line(folded(as_(head).get(f"/s/{school.slug}/{where}")))

    assert [label for _, current, label in line if current] == marked


def test_where_a_request_came_through_no_address_pages_are_named_and_none_is_marked(db):
    school = make.school()
    seat = Seat(user=make.staff(Role.HEAD, school), school=school, role=Role.HEAD)

    line = pages({"seat": seat, "request": RequestFactory().get("/")})

    assert (">Today</a>" in line, "aria-current" in line) == (True, False)


@pytest.mark.parametrize("page", [Paginator(range(60), 20).page(2), OnePage([], 2, 60, more=False, has_next=True)])
def test_pages_of_a_list_keep_the_rest_of_the_address(page):
    request = RequestFactory().get("/", {"q": "double", "page": "2"})

    drawn = Template('{% include "_partials/pagination.html" %}').render(Context({"request": request, "page": page}))

    turned = re.findall(r'rel="\w+" href="([^"]+)">([^<]+)<', drawn)
    assert turned == [("?q=double&amp;page=1", "Previous"), ("?q=double&amp;page=3", "Next")]
    assert ("Page 2 of 3, 60 in all" in drawn) == hasattr(page, "paginator")


@pytest.mark.django_db
def test_an_address_that_is_not_there_is_answered_in_plain_words(client):
    answer = client.get("/nothing/here/")

    assert answer.status_code == 404
    assert "There is nothing here for you" in answer.content.decode()


def test_no_style_names_a_side_that_is_the_other_where_one_reads_from_the_right():
    side = re.compile(
        r"\b(?:margin|padding|border)-(?:left|right)\b|(?:align|float): *(?:left|right)|[ {;](?:left|right):"
    )

    assert {sheet.name: found for sheet in SHEETS if (found := side.findall(sheet.read_text(encoding="utf-8")))} == {}
