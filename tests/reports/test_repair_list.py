"""The printed repair list, read back from its PDF."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO

import pytest
from pypdf import PdfReader

from fleet.ground.access import Role
from fleet.register.queries.horns_now import owings
from fleet.reports.paper.repair_list import repair_list_drawn
from fleet.workshop.actions.labour import order_work
from fleet.workshop.actions.reports import report_fault
from fleet.workshop.queries import in_turn
from tests import make

# ISO 216 and ANSI/ASME Y14.1, in points of 1/72 inch.
A4, LETTER = (595.3, 841.9), (612.0, 792.0)


@pytest.fixture
def world(db: None, as_):
    class World:
        school = make.school()
        technician = make.staff(Role.TECHNICIAN, school, name="Ann Reed")
        place = make.place(school, room="Horn cupboard", shelf="top")
        browser = as_(technician)
        address = f"/s/{school.slug}/prints/repair-list.pdf"

        @classmethod
        def job(cls, *faults: tuple[str, str], school=None, **fields):
            horn = make.horn(school or cls.school, build="double-full", stands_in="Bb", place=cls.place)
            return make.job_with(horn, cls.technician, *faults, **fields)

    return World


def printed(world, **query) -> PdfReader:
    answer = world.browser.get(world.address, query)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    return PdfReader(BytesIO(answer.content))


def text(reader: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def test_a_job_stands_on_paper_with_number_kind_place_faults_and_minutes(world):
    job = world.job(("string-broken", "r"), ("bell-dented", "n"), note="second valve", technician=world.technician)

    said = text(printed(world))

    for words in (
        job.horn.number,
        "full double horn in F and B♭, stands in B♭",
        "Horn cupboard, top",
        "Ann Reed",
        "string broken (second valve): stops a loan, 15 min",
        "bell dented (second valve): note only, repairer, 60 min",
        "stops a loan · 75 min",
        "1 job. About 75 minutes.",
        "1 of 1",
        "The school’s own rules and a qualified repairer come first.",
    ):
        assert words in said


def test_no_pupil_stands_on_it_nor_what_families_and_staff_wrote(world):
    job = world.job(("string-broken", "r"), notes="Ask Mia Vale about it.")
    guardian = make.guardian(world.school, name="Rosa Vale")
    pupil = make.pupil(world.school, guardian, name="Mia Vale")
    make.loan(job.horn, pupil, world.technician)
    make.report(job.horn, guardian.user, "Mia dropped it.", pupil=pupil, job=job)

    said = text(printed(world))

    assert "family waiting" in said
    assert "Mia" not in said
    assert "Vale" not in said


def test_only_this_schools_open_jobs_are_printed_and_the_pages_filter_holds(world):
    other = make.job(make.horn(make.school()), world.technician)
    done = world.job(("bell-torn", "x"), state="done")
    mine, free = world.job(("slide-loose", "r"), technician=world.technician), world.job(("slide-loose", "r"))

    whole, own = text(printed(world)), text(printed(world, whose="mine"))

    numbers = [job.horn.number for job in (mine, free, other, done)]
    assert [number in whole for number in numbers] == [True, True, False, False]
    assert [number in own for number in numbers] == [True, False, False, False]


def test_paper_the_bench_its_list_and_today_tell_jobs_in_one_order(world):
    parts = world.job(("rotor-frozen", "x"), state="parts")
    note, worst = world.job(("bell-dented", "n")), world.job(("rotor-frozen", "x"))
    long, waits = world.job(("main-slide-frozen", "r")), world.job(("main-slide-frozen", "r"))
    told = {"pupil": make.pupil(world.school), "words": "Stuck", "still_plays": True}
    report_fault(horn=waits.horn, by=world.technician, at=make.NOW, **told)
    for job in (long, waits):
        order_work(job=job, work="valve-alignment", by=world.technician, at=make.NOW)
    short = world.job(("main-slide-frozen", "r"))
    in_order = [worst.horn, waits.horn, short.horn, long.horn, note.horn, parts.horn]

    said = text(printed(world))

    assert sorted(in_order, key=lambda horn: said.index(horn.number)) == in_order
    assert [turn.job.horn for turn in world.browser.get(f"/s/{world.school.slug}/bench/").context["turns"]] == in_order
    assert [job.horn for job in owings()["job"].rows(world.school, make.TODAY)] == in_order
    told = b"".join(world.browser.get(f"/s/{world.school.slug}/exchange/jobs/?as=csv")).decode()
    assert sorted(in_order, key=lambda horn: told.index(horn.number)) == in_order


@pytest.mark.parametrize(
    ("setting", "query", "size"),
    [("a4", {}, A4), ("letter", {}, LETTER), ("a4", {"paper": "letter"}, LETTER), ("letter", {"paper": "x"}, LETTER)],
)
def test_the_paper_is_the_schools_or_the_one_asked_for(world, setting, query, size):
    world.school.paper = setting
    world.school.save()
    world.job(("string-broken", "r"))

    box = printed(world, **query).pages[0].mediabox

    assert (float(box.width), float(box.height)) == pytest.approx(size, abs=0.1)


def test_an_empty_bench_prints_a_page_that_says_so(world):
    reader = printed(world)

    assert len(reader.pages) == 1
    assert "Nothing is on the bench list." in text(reader)


def test_many_jobs_turn_pages_that_are_numbered_and_split_no_job(world):
    jobs = [world.job(("string-broken", "r"), ("slide-loose", "r"), ("bell-dented", "n")) for _ in range(20)]

    reader = printed(world)

    pages = [" ".join(page.extract_text().split()) for page in reader.pages]
    assert len(pages) > 1
    for number, said in enumerate(pages, 1):
        assert f"{number} of {len(pages)}" in said
        there = sum(job.horn.number in said for job in jobs)
        assert said.count("string broken") == said.count("slide loose") == said.count("bell dented") == there
    assert sum(said.count("string broken") for said in pages) == 20


def test_a_horn_nobody_knows_and_words_that_are_too_long_are_printed_all_the_same(world):
    horn = make.horn(world.school, build="")
    make.job(horn, world.technician)
    world.job(("string-broken", "r"), note="w" * 300)

    said = text(printed(world))

    assert "not identified" in said
    assert said.index("w" * 40) < said.index(horn.number) < said.index("No fault is named: check it first.")
    assert said.count("w" * 40) >= 2


def test_only_a_job_with_no_fault_left_says_what_is_to_be_done_instead(world):
    nothing_named, all_mended = "No fault is named: check it first.", "All mended: check it and close the job."
    job = world.job(("string-broken", "r"))
    with_a_fault = text(printed(world))
    job.findings.update(mended_at=make.NOW)
    mended = text(printed(world))
    job.findings.all().delete()
    without = text(printed(world))

    assert [nothing_named in said for said in (with_a_fault, mended, without)] == [False, False, True]
    assert [all_mended in said for said in (with_a_fault, mended, without)] == [False, True, False]


def test_work_ordered_in_words_is_what_is_to_be_done(world):
    make.job(make.horn(world.school), world.technician, work_ordered="Clean it through.")

    said = text(printed(world))

    assert "Clean it through." in said
    assert "work ordered" in said
    assert "No fault is named" not in said
    assert "no fault named yet" not in said


def test_by_place_and_by_technician_the_jobs_stand_under_headings(world):
    mine, free = world.job(("slide-loose", "r"), technician=world.technician), world.job(("bell-torn", "x"))
    later = world.job(("slide-loose", "r"), technician=world.technician)
    for job, room in ((mine, "Attic 6"), (later, "Attic 14")):
        job.horn.place = make.place(world.school, room=room)
        job.horn.save()

    by_place, by_technician = text(printed(world, by="place")), text(printed(world, by="technician"))

    first, last = mine.horn.number, free.horn.number
    assert by_place.index("Attic 6") < by_place.index(first) < by_place.index("Attic 14")
    assert by_place.index("Attic 14") < by_place.index("Horn cupboard, top")
    assert by_place.index("Horn cupboard, top") < by_place.index(last)
    assert by_technician.index("Ann Reed") < by_technician.index(first)
    assert by_technician.index(first) < by_technician.index("Nobody has taken these") < by_technician.index(last)


@pytest.mark.parametrize("by", ["", "place", "technician"])
def test_what_is_not_here_stands_last_with_where_it_is_and_its_minutes_are_not_counted(world, by):
    away = world.job(("rotor-frozen", "x"), state="away", repairer="Bell and Sons", technician=world.technician)
    out = world.job(("rotor-frozen", "x"))
    make.loan(out.horn, make.pupil(world.school, name="Mia Vale"), world.technician)
    here = world.job(("slide-loose", "r"))
    parts = world.job(("slide-loose", "r"), state="parts")

    said = text(printed(world, by=by))

    assert "4 jobs. To be worked on now: 1, about 30 minutes." in said
    assert "Waiting for parts: 1. Not here, at the end: 2." in said
    places = [said.rindex(word) for word in (here.horn.number, "Not here", out.horn.number, away.horn.number)]
    assert places == sorted(places)
    assert said.index(parts.horn.number) < said.rindex("Not here")
    assert "Bell and Sons" in said
    assert "out on loan" in said
    assert "Mia" not in said
    # On the one line of the horn that is there, or over it.
    assert said.count("Horn cupboard, top") == 1


def test_of_a_family_s_report_without_a_fault_the_bench_and_its_print_say_the_same_wherever_the_horn_is(world):
    guardian = make.guardian(world.school)
    for lent in (True, False):
        job = world.job()
        pupil = make.pupil(world.school, guardian)
        if lent:
            make.loan(job.horn, pupil, world.technician)
        make.report(job.horn, guardian.user, still_plays=False, pupil=pupil, job=job)
    gone = make.job(make.horn(world.school, not_found_on=make.TODAY), world.technician)

    said = text(printed(world)).lower()
    page = " ".join(world.browser.get(f"/s/{world.school.slug}/bench/").content.decode().split())

    assert page.count(": no fault is named: check it first") == 3
    assert (said.count("no fault is named: check it first"), said.count("named")) == (2, 2)
    assert said.index("the horn cannot be found") > said.index(gone.horn.number.lower())


def test_todays_list_holds_the_set_of_the_visit_and_nothing_else(world):
    long, short = world.job(("rotor-frozen", "x")), world.job(("string-broken", "r"))

    said = text(printed(world, today="20"))

    assert "Today’s repairs" in said
    assert (
        "1 job. 15 of the 20 minutes of this visit are planned: the set that frees most. Horns freed once checked: 1."
        in said
    )
    assert short.horn.number in said
    assert long.horn.number not in said
    assert "No job can be done in 5 minutes." in text(printed(world, today="5"))
    assert long.horn.number in text(printed(world, today="-1"))


@pytest.mark.parametrize("count", [1, 3])
def test_the_print_takes_the_same_queries_for_three_jobs_as_for_one(world, count, django_assert_num_queries):
    for _ in range(count):
        job = world.job(("string-broken", "r"), ("bell-torn", "x"), technician=world.technician)
        make.report(job.horn, world.technician, job=job)
    world.browser.get(world.address)

    with django_assert_num_queries(10):
        printed(world)


def test_the_same_bench_gives_the_same_bytes(world):
    world.job(("string-broken", "r"))
    turns = in_turn.with_jobs(in_turn.turns(world.school, make.TODAY))

    once, again = (repair_list_drawn(turns, school=world.school, today=make.TODAY, paper="a4") for _ in range(2))

    assert once == again


def test_a_job_is_really_drawn(world, rendered: Callable[[bytes], bytes]):
    from PIL import Image

    world.job(("string-broken", "r"))
    turns = in_turn.with_jobs(in_turn.turns(world.school, make.TODAY))

    full, empty = (repair_list_drawn(some, school=world.school, today=make.TODAY, paper="a4") for some in (turns, []))

    dark = [sum(Image.open(BytesIO(rendered(one))).convert("L").histogram()[:128]) for one in (full, empty)]
    assert dark[0] > 2 * dark[1]
