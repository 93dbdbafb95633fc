"""What a page that listens asks for next."""

import pytest
from django.http import QueryDict

from fleet.ground.access import Role
from identify.core.hearing.kept_notes import UP
from identify.listening import on_step
from identify.walk import read_walk
from tests import make
from tests.identify.core.hearing.test_kept_notes import open_notes

# What to play next is reckoned from what was heard; the rows are who asks.
pytestmark = pytest.mark.either_engine

F_PEDAL = 29  # The pedal of the 12-foot F tube, F1
FIRST = "Play the lowest open note that speaks easily, and hold it."
NEXT = "Now the next open note up. Skip none."
ENOUGH = "That is enough. One more note would make it surer still."
ANY = "Play the note named above, if it speaks; or any open note not played yet."


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("partials", "prompt", "settled"),
    [
        ((), FIRST, False),
        ((3,), NEXT, False),
        ((3, 4), NEXT, False),  # They tell the tube already, but one of two may be wrong.
        ((3, 4, 5), NEXT, True),
        ((3, 4, 5, 6), ENOUGH, True),
        ((2, 4, 8, 16), ANY, False),  # Octaves alone are partials of other tubes too.
    ],
)
def test_a_first_note_is_asked_for_then_the_next_up_until_the_notes_tell_the_tube(as_, partials, prompt, settled):
    school = make.school()
    kept = {UP: open_notes(F_PEDAL, partials)} if partials else {}

    page = as_(make.staff(Role.TEACHER, school)).get(f"/s/{school.slug}/identify/listen/", kept)

    assert (page.context["listening"].prompt, page.context["settled"]) == (prompt, settled)
    assert prompt in page.content.decode()


TEST_NOTE = "233.1~0.98"


@pytest.mark.parametrize(
    ("step", "heard", "prompt", "kept"),
    [
        ("test_note", "", "Press Listen, then play the test note and hold it.", ""),
        ("test_note", f"heard_test={TEST_NOTE}", "Not what you meant? Listen again.", "B♭3 (written F4), 233.1 Hz"),
        ("step_down", "", "First the test note: press Listen, play it and hold it.", ""),
        (
            "step_down",
            f"heard_step={TEST_NOTE}",
            "Now keep the same valves and slur down to the next note. Press Listen and hold that one.",
            "B♭3 (written F4), 233.1 Hz",
        ),
        (
            "step_down",
            f"heard_step={TEST_NOTE},174.6~0.98",
            "Listen again, from the test note.",
            "B♭3 (written F4), 233.1 Hz, then F3 (written C4), 174.6 Hz",
        ),
    ],
)
def test_on_a_check_the_note_that_is_missing_is_asked_for_and_what_was_heard_is_named(step, heard, prompt, kept):
    shown = on_step(read_walk(QueryDict(heard)), step)

    assert shown is not None
    assert (shown.prompt, shown.kept) == (prompt, kept)
    assert shown.forget == (f"?step={step}" if heard else "")


def test_a_second_look_does_not_show_the_notes_of_the_first_and_stays_one():
    walk = read_walk(QueryDict(f"step_down=5&heard_step={TEST_NOTE},174.6~0.98&step=step_down&look=again"))
    shown = on_step(walk, "step_down")

    assert shown is not None
    assert (shown.prompt, shown.kept, shown.forget) == (
        "First the test note: press Listen, play it and hold it.",
        "",
        "",
    )
    assert shown.address.endswith("&step=step_down&look=again")


def test_a_second_look_that_has_its_test_note_goes_on_from_it_and_stays_one():
    walk = read_walk(QueryDict(f"step_down=5&heard_step={TEST_NOTE}&step=step_down&look=again"))
    shown = on_step(walk, "step_down")

    assert shown is not None
    assert (shown.prompt, shown.kept) == (
        "Now keep the same valves and slur down to the next note. Press Listen and hold that one.",
        "B♭3 (written F4), 233.1 Hz",
    )
    assert shown.forget == "?step_down=5&step=step_down&look=again"


def test_a_check_without_a_note_to_hear_does_not_listen():
    assert on_step(read_walk(QueryDict("")), "valves") is None
