import io
import re
from typing import Any, cast

import pytest
import uharfbuzz
import zxingcpp
from django.core.exceptions import ImproperlyConfigured
from hypothesis import example, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageChops
from pypdf import PdfReader
from reportlab.pdfbase import pdfmetrics

from fleet.reports.sheet import faces as letters
from fleet.reports.sheet.lines import MM, balanced, broken, fitted
from fleet.reports.sheet.page import HEIGHT, PAPERS, WIDTH, Sheet


def resources(content: bytes, kind: str) -> Any:
    return cast(Any, PdfReader(io.BytesIO(content)).pages[0])["/Resources"][kind]


def printed(paper="a4", draw=lambda page: None, pages=1):
    out = io.BytesIO()
    page = Sheet(out, school="Hill Road School", title="Loan sheet", paper=paper, foot="Keep this sheet.")
    draw(page)
    for _ in range(pages - 1):
        page.turn()
        draw(page)
    page.close()
    return out.getvalue()


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_page_has_the_size_of_its_paper_and_the_area_lies_inside_it(paper):
    box = PdfReader(io.BytesIO(printed(paper))).pages[0].mediabox

    # ISO 216 for A4; 8½ × 11 inches for US Letter.
    wide, high = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}[paper]
    assert (float(box.width), float(box.height)) == pytest.approx((wide * MM, high * MM), abs=0.01)
    assert wide - WIDTH >= 20
    assert high - HEIGHT >= 20


def test_every_page_says_the_school_the_title_and_which_page_of_how_many_it_is():
    content = printed(pages=3)
    pages = PdfReader(io.BytesIO(content)).pages

    assert len(pages) == 3
    for number, page in enumerate(pages, 1):
        text = page.extract_text()
        assert f"{number} of" in text
    # The head and the number of pages are kept once in the file.
    assert len(resources(content, "/XObject")) == 2


def test_the_same_input_gives_the_same_bytes():
    def draw(page):
        page.words(0, 30, "Łukasz stands in B♭ 小明")
        page.code(0, 40, 25, "https://horns.example.org/h/ABCDEFGH/")

    assert printed(draw=draw) == printed(draw=draw)


@pytest.mark.parametrize(
    "said",
    ["B♭ and F♯", "Łukasz Żółć", "Ольга", "Nguyễn Thị Ánh", "Ελένη", "小明", "さくら", "민준"],
)
def test_names_and_accidentals_are_drawn_and_read_back(said):
    text = PdfReader(io.BytesIO(printed(draw=lambda page: page.words(0, 30, said)))).pages[0].extract_text()

    assert said in text


def test_every_letter_travels_with_the_print():
    content = printed(draw=lambda page: page.words(0, 30, "B♭ 小明 שרה"))

    fonts = resources(content, "/Font").values()
    embedded = [
        "/FontFile2" in font.get_object()["/FontDescriptor"]
        for font in fonts
        if font.get_object()["/Subtype"] == "/TrueType"
    ]
    assert len(embedded) >= 3
    assert all(embedded)


def test_a_sign_that_no_face_has_is_named():
    # A sign of the Unicode block "Egyptian Hieroglyphs" (Unicode 5.2).
    assert letters.printable("Ra \U00013000") == "Ra [egyptian hieroglyph a001]"
    assert letters.printable("Zoë 🎺") == "Zoë [trumpet]"


def test_joiners_variation_signs_and_direction_marks_leave_no_trace():
    assert letters.printable("a\u200db\ufe0f\u202ec\u200f") == "abc"


def test_hebrew_reads_from_right_to_left_and_the_rest_stays():
    assert letters.in_reading_order("שרה, B") == "הרש, B"
    assert letters.in_reading_order("Sara שרה כהן B") == "Sara ןהכ הרש B"


def test_a_number_after_hebrew_belongs_to_it_as_the_unicode_rules_have_it():
    # UAX 9, rule N1: numbers count as right-to-left for the comma and the space between.
    assert letters.in_reading_order("שרה, 5") == "5 ,הרש"


def test_numbers_inside_hebrew_keep_their_own_order():
    assert letters.in_reading_order("כיתה 12 א") == "א 12 התיכ"


def test_brackets_inside_hebrew_still_embrace():
    assert letters.in_reading_order("א (ב) ג") == "ג (ב) א"


def test_a_bracket_beside_hebrew_or_arabic_embraces_what_it_embraced():
    # UAX 9, rule N0: a pair goes with what stands in it, or with what stands before it.
    assert letters.in_reading_order("Sara שרה (5) B") == "Sara (5) הרש B"
    assert letters.in_reading_order("שרה (5a)") == "הרש (5a)"


def by_harfbuzz(said, rank=1):
    """(glyph, letter it belongs to, how far it goes on, how far right and up it stands) straight from the library."""
    font = uharfbuzz.Font(uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(letters._home() / letters.FACES[rank][0]))))
    buffer = uharfbuzz.Buffer()
    buffer.add_str(said)
    buffer.guess_segment_properties()
    buffer.cluster_level = uharfbuzz.BufferClusterLevel.MONOTONE_CHARACTERS
    uharfbuzz.shape(font, buffer, {"kern": True, "liga": True})
    return [
        (sign.codepoint, sign.cluster, at.x_advance, at.x_offset, at.y_offset)
        for sign, at in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True)
    ]


def as_drawn(said):
    """The same of every stretch that is drawn, in units of the face."""
    found = []
    for name, part, _, _ in letters.shown(said, False):
        face = pdfmetrics.getFont(name).face
        for letter, sign in zip(part, getattr(part, "__shapeData__", ()), strict=False):
            moved = (sign.x_advance, sign.x_offset, sign.y_offset)
            found.append(
                (face.charToGlyph[ord(letter)], sign.cluster, *(round(v * face.unitsPerEm / 1000) for v in moved))
            )
    return found


@pytest.mark.parametrize(
    "said", ["प्रिया", "शर्मा", "क्षत्रिय", "ক্ষমা", "தமிழ்", "శ్రీ", "ไม้", "محمد", "لا", "می\u200cخواهم", "שָׁלוֹם", "שרה"]
)
def test_a_word_of_a_script_with_rules_is_set_sign_for_sign_as_harfbuzz_sets_it(said):
    assert as_drawn(said) == by_harfbuzz(said)


def test_a_word_before_an_arabic_comma_is_not_turned_round():
    assert as_drawn("محمد، محمد") == [*by_harfbuzz("محمد"), *by_harfbuzz("محمد،")]


def test_hindi_shows_no_halant_where_letters_join():
    halant = by_harfbuzz("\u094d")[-1][0]

    assert halant not in [sign[0] for sign in as_drawn("प्रिया शर्मा")]
    assert halant in [sign[0] for sign in as_drawn("वाक्")]


def test_each_script_on_a_line_is_set_by_its_own_rules():
    first, second, third = "प्रिया", "தமிழ்", "محمد"

    assert as_drawn(f"Ida {first} {second}, {third}") == [
        *by_harfbuzz(first),
        *by_harfbuzz(second),
        *by_harfbuzz(third),
    ]


def test_a_mark_without_a_letter_of_its_own_stands_over_its_letter():
    assert as_drawn("m\u0308") == by_harfbuzz("m\u0308", rank=0)
    assert letters.shown("e\u0301", False) == letters.shown("é", False)


def test_words_set_by_rules_are_as_wide_as_what_is_drawn():
    signs = by_harfbuzz("प्रिया")

    assert letters.width("प्रिया", 10) == pytest.approx(sum(sign[2] for sign in signs) / 2048 * 10, abs=0.01)


TOLD = re.compile(rb"/ActualText <([0-9a-f]+)>")


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("प्रिया शर्मा", ["प्रिया", "शर्मा"]),
        ("محمد 12", ["د", "م", "ح", "م"]),
        ("Sara שרה B", ["ה", "ר", "ש"]),
        ("سلام", ["م", "\ufefc", "س"]),
    ],
)
def test_words_set_by_rules_are_read_back_as_they_are_said(said, told):
    content = PdfReader(io.BytesIO(printed(draw=lambda page: page.words(0, 30, said)))).pages[0].get_contents()

    # ISO 32000-1, 14.9.4: the text a reader gives instead of the signs between BDC and EMC; of words from right to left
    # sign by sign as they lie on the paper.
    assert content is not None
    spoken = [bytes.fromhex(one.decode()).decode("utf-16") for one in TOLD.findall(content.get_data())]
    assert spoken == told


def test_plain_words_are_not_set_by_rules():
    assert [type(part) for _, part, _, _ in letters.shown("Łukasz Żółć 12", False)] == [str]


def test_words_that_fit_stay_and_longer_ones_shrink_before_they_are_cut():
    assert fitted("Horn", 40, 10) == ("Horn", 10)
    said, size = fitted("Register number of the horn", 40, 10)
    assert said == "Register number of the horn"
    assert 7.5 <= size < 10
    said, size = fitted("Register number of the horn" * 4, 40, 10)
    assert said.endswith("…")
    assert size == 7.5
    assert letters.width(said, size) <= 40 * MM


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=300), st.floats(15, 180))
@example("000000@\x1b\t0", 15.0)
def test_no_line_is_wider_than_it_may_be(said, width):
    for line in broken(said, width, 9):
        assert letters.width(line, 9) <= width * MM + 0.01 or len(line) == 1


def test_what_is_over_the_lines_allowed_is_cut_with_an_ellipsis():
    lines = broken("the horn goes back into its case " * 20, 60, 9, lines=3)

    assert len(lines) == 3
    assert lines[-1].endswith("…")
    assert all(letters.width(line, 9) <= 60 * MM for line in lines)


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_the_square_code_is_read_by_an_independent_reader(paper, rendered):
    address = "https://horns.example.org/h/ABCDEFGH/"
    content = printed(paper, draw=lambda page: page.code(150, 20, 30, address))

    found = zxingcpp.read_barcodes(Image.open(io.BytesIO(rendered(content))))

    assert [code.text for code in found] == [address]


def test_a_word_too_long_for_its_line_is_cut_after_a_sign_between_its_parts():
    assert broken("Featherstonehaugh-Cholmondeley", 33, 9) == ["Featherstonehaugh-", "Cholmondeley"]
    address = "a.very.long.address@subdomain.example.org"
    assert "".join(broken(address, 30, 9)) == address


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text("abcdefg", min_size=1, max_size=9), min_size=1, max_size=40), st.floats(30, 120))
def test_balancing_keeps_every_word_and_the_number_of_lines(words, width):
    said = " ".join(words)
    even = balanced(said, width, 9)
    assert len(even) == len(broken(said, width, 9))
    assert " ".join(even) == said


def test_a_last_word_does_not_stand_alone_where_a_narrower_line_takes_it():
    said = "After playing: empty the water, wipe the horn with a soft cloth, "
    said += "put it into its case with nothing loose in it."
    assert broken(said, 183, 12)[-1] == "it."
    assert balanced(said, 183, 12)[-1] == "loose in it."


def test_an_accidental_is_about_as_tall_as_its_letter_on_the_paper(rastered):
    def tall(said):
        [page] = rastered(printed(draw=lambda page: page.words(0, 60, said, size=40)), 100)
        _, top, _, foot = ImageChops.invert(page.convert("L").crop((0, 200, 827, 900))).getbbox()
        return foot - top

    # A flat or natural that is much smaller than its letter is overlooked, and the note is another.
    for sign in "♭♯♮":
        assert 0.8 <= tall(sign) / tall("B") <= 1.6, sign


def test_the_marks_to_fold_at_lie_at_the_thirds_of_the_paper(rastered):
    for paper, high in (("a4", 297.0), ("letter", 279.4)):
        [page] = rastered(printed(paper, draw=lambda page: page.folds()), 200)
        margin = page.convert("L").crop((0, 0, round(9.5 / 25.4 * 200), page.height))
        box = margin.point(lambda ink: 255 * (ink < 128)).getbbox()
        assert (box[1] / 200 * 25.4, box[3] / 200 * 25.4) == pytest.approx((high / 3, high * 2 / 3), abs=0.4)


@pytest.mark.parametrize(("said", "printed"), [("\uab69", "\u028d"), ("a\u07fd", "a"), ("a\u0001b", "a b")])
def test_a_sign_no_face_has_is_printed_as_its_plain_form_and_a_strange_mark_not_at_all(said, printed):
    assert letters.printable(said) == printed


def test_without_its_letters_the_site_says_what_to_install(monkeypatch):
    monkeypatch.setattr(letters, "PACKAGE", "no_such_package_of_letters")
    with pytest.raises(ImproperlyConfigured, match="No letters to print with"):
        letters._home.__wrapped__()
