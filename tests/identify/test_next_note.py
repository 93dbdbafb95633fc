"""What the page that listens to open notes asks for next."""

import pytest

from fleet.ground.access import Role
from identify.core.hearing.kept_notes import UP
from tests import make
from tests.identify.core.hearing.test_kept_notes import open_notes

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
