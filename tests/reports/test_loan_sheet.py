import io
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from fleet.ground.access import Role
from fleet.ground.wording import day
from fleet.lending.actions import dates
from fleet.lending.models import Agreement, Loan
from fleet.register.models import Horn
from fleet.register.models.kinds import build_of
from fleet.reports.paper.loan_sheet import loan_sheets_drawn
from fleet.reports.queries.fingers import test_note as note_of
from fleet.reports.queries.loan_facts import WITH, of_loan
from fleet.reports.sheet.lines import MM
from fleet.signing.forms.agreements import LONGEST_AGREEMENT
from identify.core.horns.catalogue import catalogue
from tests import make

# The same rows give the same paper.
pytestmark = pytest.mark.either_engine
DUE = make.TODAY + timedelta(days=100)


def reader(content: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(content))


def text(content: bytes) -> str:
    return " ".join(reader(content).pages[0].extract_text().split())


@pytest.fixture
def school(db):
    return make.school(name="Hill Road School", contact="the music office", local_rules="The school insures it.")


@pytest.fixture
def teacher(school):
    return make.staff(Role.TEACHER, school, name="Tom Adeyemi")


@pytest.fixture
def loan(school, teacher):
    guardian = make.guardian(school, name="Maria Okafor")
    pupil = make.pupil(school, guardian, name="Ada Okafor", year="6", group="Junior band")
    horn = make.horn(
        school,
        number="HN-0042",
        build="double-full",
        stands_in="Bb",
        serial_number="20417",
        maker="Alder & Sons",
        value="4321.50",
        price="5432.10",
        notes="Bought from a neighbour.",
        place=make.place(school, room="Cellar"),
    )
    check = make.check(horn, teacher, grade=2)
    make.finding(check, "bell-dented", "n", note="Dropped by an earlier player.")
    return make.loan(horn, pupil, teacher, check_at_issue=check, due_on=DUE, accessories=("mouthpiece", "case", "mute"))


def sheet(loan: Loan, as_: Any, teacher: Any, **asked: str) -> bytes:
    answer = as_(teacher).get(f"/s/{loan.horn.school.slug}/prints/loans/{loan.pk}/sheet.pdf", asked)
    assert answer.headers["Content-Type"] == "application/pdf"
    return answer.content


def test_the_sheet_says_what_was_lent_to_whom_until_when_and_how_it_was(loan, as_, teacher):
    said = text(sheet(loan, as_, teacher))

    for words in (
        "Hill Road School",
        "HN-0042",
        "full double horn in F and B♭, stands in B♭",
        "Ada Okafor",
        "year 6, Junior band",
        "Maria Okafor",
        "23 December 2026",
        "Alder & Sons",
        "20417",
        "Grade 2",
        "bell dented (note)",
        "mute",
        "thumb at rest: open, no valve",
        "thumb lever pressed: 1st valve",
        "H304",
        "The school insures it.",
        "Agreement, version 1",
        "We look after the horn.",
        "Questions: the music office",
        "1 of 1",
    ):
        assert words in said, words


def test_the_sheet_of_a_renewed_loan_says_until_when_since_when_and_by_whom(loan, as_, teacher):
    later = loan.due_on + timedelta(days=300)
    dates.renew(loan=loan, due_on=later, due_seen=loan.due_on, reason="", by=teacher, at=make.NOW)

    said = text(sheet(loan, as_, teacher))

    assert f"{day(later)}, renewed" in said
    assert f"Renewed {day(make.TODAY)}, {teacher}" in said


def test_the_sheet_tells_no_value_place_staff_note_or_other_player(loan, as_, teacher):
    earlier = make.pupil(loan.horn.school, name="Earlier Player")
    make.loan(loan.horn, earlier, teacher, issued_on=make.TODAY - timedelta(days=90), returned_on=make.TODAY)

    said = text(sheet(loan, as_, teacher))

    for words in ("4321", "4,321", "5432", "neighbour", "Cellar", "Earlier Player", "earlier player"):
        assert words not in said, words


@pytest.mark.parametrize(("paper", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_the_sheet_is_one_page_on_the_paper_asked_for(loan, as_, teacher, paper, size):
    pages = reader(sheet(loan, as_, teacher, paper=paper)).pages

    assert len(pages) == 1
    # ISO 216 for A4; 8½ × 11 inches for US Letter.
    assert (float(pages[0].mediabox.width), float(pages[0].mediabox.height)) == pytest.approx(
        (size[0] * MM, size[1] * MM), abs=0.01
    )


def test_without_being_asked_the_sheet_takes_the_schools_paper(loan, as_, teacher):
    loan.horn.school.paper = "letter"
    loan.horn.school.save()

    assert float(reader(sheet(loan, as_, teacher, paper="a9")).pages[0].mediabox.height) == pytest.approx(792)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_square_code_leads_to_the_loan(loan, as_, teacher, rendered, settings, paper):
    settings.SITE_ORIGIN = "https://horns.example.org"

    [code] = zxingcpp.read_barcodes(Image.open(io.BytesIO(rendered(sheet(loan, as_, teacher, paper=paper)))))

    assert code.text == f"https://horns.example.org/p/{loan.sheet_code}/"


def test_without_a_settled_address_the_code_takes_the_one_asked(loan, as_, teacher, rendered):
    [code] = zxingcpp.read_barcodes(Image.open(io.BytesIO(rendered(sheet(loan, as_, teacher)))))

    assert code.text == f"http://testserver/p/{loan.sheet_code}/"


def test_the_longest_of_everything_stays_on_one_page_and_above_the_foot(school, teacher):
    long = "Maximiliana Konstantina von und zu Hohenstaufen-Wintersberg "
    school.local_rules = "Every rule has its reason. " * 60
    school.save()
    make.agreement(school, words=("We promise to look after it. " * 61)[:LONGEST_AGREEMENT])
    guardian = make.guardian(school, name=(long * 2)[:120])
    pupil = make.pupil(school, guardian, name=(long * 2)[:120], year="year " * 4, group="band " * 12)
    horn = make.horn(
        school,
        number="X" * 24,
        build="triple-full",
        stands_in="Bb",
        maker="M" * 80,
        model="W" * 80,
        serial_number="9" * 60,
        wrap="standard",
        finish="nickel-silver",
    )
    check = make.check(horn, teacher, grade=2)
    for fault in ("bell-dented", "case-damaged", "string-frayed", "linkage-clicking", "leadpipe-dirty", "shank-bent"):
        make.finding(check, fault, "w")
    things = tuple(f"{n} " + "thing with a long name " * 2 for n in range(16))
    made = make.loan(horn, pupil, teacher, check_at_issue=check, accessories=things)
    facts = of_loan(Loan.objects.select_related(*WITH).get(pk=made.pk))

    for paper in ("a4", "letter"):
        content = loan_sheets_drawn([facts], school=school, paper=paper, origin="https://horns.example.org")
        pages = reader(content).pages
        assert len(pages) == 1
        said = " ".join(pages[0].extract_text().split())
        assert "Maximiliana" in said
        assert "15 thing" in said
        assert "and 2 more" in said
        assert said.count("We promise") == 61
        assert "1 of" in said


def test_words_too_long_for_the_sheet_stand_whole_on_its_back(loan):
    facts = of_loan(Loan.objects.select_related(*WITH).get(pk=loan.pk))
    long = replace(facts, agreement="We promise to look after it.\n" * 130)

    pages = reader(loan_sheets_drawn([long], school=loan.horn.school, paper="letter", origin="https://x.example")).pages

    assert [" ".join(page.extract_text().split()).count("We promise") for page in pages] == [0, 130]
    assert "overleaf" in pages[0].extract_text()


def test_emoji_right_to_left_and_far_names_are_on_the_sheet(loan):
    facts = of_loan(Loan.objects.select_related(*WITH).get(pk=loan.pk))
    far = replace(facts, pupil="Zoë 🎺 小明", guardian="שרה כהן")

    said = text(loan_sheets_drawn([far], school=loan.horn.school, paper="a4", origin="https://horns.example.org"))

    assert "Zoë [trumpet] 小明" in said
    assert "שרה" in said or "הרש" in said


@pytest.mark.parametrize("build", sorted(catalogue()))
def test_every_kind_of_horn_has_its_sheet_on_one_page(loan, build):
    horn = loan.horn
    horn.build, horn.stands_in = build, ""
    horn.save()

    content = loan_sheets_drawn(
        [of_loan(Loan.objects.select_related(*WITH).get(pk=loan.pk))],
        school=horn.school,
        paper="letter",
        origin="https://horns.example.org",
    )

    assert len(reader(content).pages) == 1
    said = text(content)
    assert ("oil the" in said) == bool(catalogue()[build].valves)
    assert "The school’s own rules and a qualified repairer come first." in said


def test_care_is_printed_large_enough_to_read(loan):
    facts = of_loan(Loan.objects.select_related(*WITH).get(pk=loan.pk))
    content = loan_sheets_drawn([facts], school=loan.horn.school, paper="a4", origin="https://horns.example.org")
    sizes = []

    def note(words, _matrix, _text_matrix, _font, size):
        if "lukewarm" in words:
            sizes.append(size)

    reader(content).pages[0].extract_text(visitor_text=note)

    assert sizes
    assert min(sizes) >= 8


def test_the_same_loan_prints_the_same_bytes(loan, as_, teacher):
    assert sheet(loan, as_, teacher) == sheet(loan, as_, teacher)


def test_many_sheets_are_one_document_with_a_page_each_and_what_repeats_is_kept_once(loan):
    facts = of_loan(Loan.objects.select_related(*WITH).get(pk=loan.pk))

    def size(count):
        return len(
            loan_sheets_drawn([facts] * count, school=loan.horn.school, paper="a4", origin="https://horns.example.org")
        )

    one, eleven = size(1), size(11)
    content = loan_sheets_drawn([facts] * 11, school=loan.horn.school, paper="a4", origin="https://horns.example.org")
    assert len(reader(content).pages) == 11
    # A family gets one of them: each is numbered for itself.
    assert "1 of 1" in reader(content).pages[2].extract_text()
    assert eleven - one < one


def test_a_sheet_with_its_agreement_overleaf_is_two_pages_of_its_own_among_many(loan):
    short = of_loan(Loan.objects.select_related(*WITH).get(pk=loan.pk))
    long = replace(short, agreement="We look after the horn. " * 200)
    content = loan_sheets_drawn(
        [short, long, short], school=loan.horn.school, paper="a4", origin="https://horns.example.org"
    )
    numbers = [" ".join(page.extract_text().split()) for page in reader(content).pages]
    assert ["1 of 1" in numbers[0], "1 of 2" in numbers[1], "2 of 2" in numbers[2], "1 of 1" in numbers[3]] == [
        True
    ] * 4


def test_a_name_too_long_for_its_line_stands_whole_on_the_sheet(loan):
    facts = of_loan(Loan.objects.select_related(*WITH).get(pk=loan.pk))
    name = "Maximiliana-Theodora Featherstonehaugh-Cholmondeley von und zu Hohenlohe-Langenburg"
    facts = replace(facts, guardian=name, pupil=name[::-1])
    said = text(loan_sheets_drawn([facts], school=loan.horn.school, paper="a4", origin="https://horns.example.org"))
    assert name in said
    assert name[::-1] in said


def test_a_returned_horns_sheet_says_how_it_came_back(loan, as_, teacher):
    loan.accessories.filter(name="mute").update(came_back=False)
    Loan.objects.filter(pk=loan.pk).update(
        returned_on=make.TODAY,
        returned_to=teacher,
        check_at_return=make.check(loan.horn, teacher, grade=3),
        mouthpiece_cleaned_on=make.TODAY,
        mouthpiece_cleaned_by=teacher,
    )

    said = text(sheet(loan, as_, teacher))

    assert "3, repair before the next loan" in said
    assert "Missing mute" in said


def test_the_sheet_takes_the_same_queries_with_one_accessory_and_with_three(
    loan, as_, teacher, django_assert_num_queries
):
    client, page = as_(teacher), f"/s/{loan.horn.school.slug}/prints/loans/{loan.pk}/sheet.pdf"
    with django_assert_num_queries(9):
        client.get(page)
    loan.accessories.exclude(name="case").delete()
    make.finding(loan.check_at_issue, "case-damaged", "w")
    make.finding(loan.check_at_issue, "shank-bent", "w")
    with django_assert_num_queries(9):
        client.get(page)


def test_a_sheet_of_another_school_is_not_found(loan, as_):
    other = make.school()

    answer = as_(make.staff(Role.HEAD, other)).get(f"/s/{other.slug}/prints/loans/{loan.pk}/sheet.pdf")

    assert answer.status_code == 404


def to_sign(horn, pupil, guardian):
    return {
        "horn": horn.pk,
        "pupil": pupil.pk,
        "guardian": guardian.pk,
        "due_on": DUE.isoformat(),
        "accessories": ["mouthpiece"],
        "more": "mute",
    }


@pytest.fixture
def waiting(school, teacher, monkeypatch):
    monkeypatch.setattr("fleet.middleware.timezone.now", lambda: make.NOW)
    guardian = make.guardian(school, name="Maria Okafor")
    pupil = make.pupil(school, guardian, name="Ada Okafor")
    horn = make.horn(school, build="single-f", stands_in="F")
    make.check(horn, teacher)
    return horn, pupil, guardian


def test_the_sheet_to_sign_has_lines_for_the_signatures_and_saves_nothing(waiting, school, teacher, as_):
    horn = waiting[0]

    answer = as_(teacher).get(f"/s/{school.slug}/prints/sheet-to-sign.pdf", to_sign(*waiting))

    said = text(answer.content)
    for words in (
        horn.number,
        "Ada Okafor",
        "Guardian’s signature",
        "For the school, signature",
        "Mouthpiece cleaned on, by",
        "1st valve",
        "mute",
        "23 December 2026",
        "Agreement, version 1",
    ):
        assert words in said, words
    assert len(reader(answer.content).pages) == 1
    assert (Loan.objects.count(), Agreement.objects.count()) == (0, 0)


def test_no_sheet_to_sign_for_what_cannot_be_lent_or_is_not_whole(waiting, school, teacher, as_):
    horn, pupil, _ = waiting
    client, page = as_(teacher), f"/s/{school.slug}/prints/sheet-to-sign.pdf"

    half = client.get(page, {"horn": horn.pk, "pupil": pupil.pk})
    past = client.get(page, to_sign(*waiting) | {"due_on": "2026-09-13"})
    Horn.objects.filter(pk=horn.pk).update(grade=4)
    broken = client.get(page, to_sign(*waiting))

    for answer in (half, past, broken):
        assert answer.status_code == 302
        assert answer.url.startswith(f"/s/{school.slug}/loans/issue/?horn={horn.pk}")


def test_the_sheet_to_sign_takes_a_fixed_number_of_queries(waiting, school, teacher, as_, django_assert_num_queries):
    horn, pupil, _ = waiting
    client, page = as_(teacher), f"/s/{school.slug}/prints/sheet-to-sign.pdf"
    with django_assert_num_queries(12):
        client.get(page, to_sign(*waiting))
    check = horn.checks.get()
    for fault in ("bell-dented", "case-damaged"):
        pupil.guardians.add(make.guardian(school))
        make.finding(check, fault, "n")
    with django_assert_num_queries(12):
        client.get(page, to_sign(*waiting))


# Fingerings of the test note, sounding B♭3, by tube: computed from the harmonic series (12-ft F: first valve,
# 9-ft B♭: open, 6-ft F: first valve, 6¾-ft E♭: open).
@pytest.mark.parametrize(
    ("build", "stands_in", "fingerings"),
    [
        ("single-f", "F", [("", "1st valve")]),
        ("single-bb", "Bb", [("", "open, no valve")]),
        ("double-full", "F", [("thumb at rest", "1st valve"), ("thumb lever pressed", "open, no valve")]),
        ("double-full", "Bb", [("thumb at rest", "open, no valve"), ("thumb lever pressed", "1st valve")]),
        ("single-bb-stopping", "Bb", [("", "open, no valve")]),
        ("mellophone-f", "F", [("", "1st valve")]),
        ("alto-horn-eb", "Eb", [("", "open, no valve")]),
    ],
)
def test_the_test_notes_fingering_follows_the_horns_tube_as_it_stands(build, stands_in, fingerings):
    said, ways = note_of(build_of(build), stands_in, "")

    assert list(ways) == fingerings
    assert said.endswith("sounds as B♭3.")


def test_for_a_part_in_f_the_test_note_is_written_f_in_the_first_space():
    # Written F4 in a part in F sounds B♭3: MusicXML 4.0 `transpose`, a fifth down.
    assert note_of(build_of("single-f"), "F", "")[0] == "Written: F in the first space. It sounds as B♭3."


@pytest.mark.parametrize(("build", "stands_in"), [("", ""), ("no-such-build", "F"), ("single-f", "G")])
def test_an_unknown_kind_or_stand_gives_no_fingering(build, stands_in):
    assert note_of(build_of(build), stands_in, "") == ("", ())
