from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.ground.refusal import Refused
from fleet.lending.actions import asks, dates, swapping
from fleet.lending.models import LoanPeriod
from tests import make


def test_a_leavers_loan_is_not_renewed_and_his_family_cannot_ask_for_it_but_may_say_it_is_lost(lending, out):
    ask = {"loan": out, "words": "Until May", "by": lending.guardian.user, "at": make.NOW}
    out.pupil.left_on = make.TODAY
    out.pupil.save()

    with pytest.raises(Refused, match="left the school on"):
        dates.renew(
            loan=out,
            due_on=make.TODAY + timedelta(days=400),
            due_seen=out.due_on,
            reason="",
            by=lending.teacher,
            at=make.NOW,
        )
    with pytest.raises(Refused, match="left the school on"):
        asks.ask(kind="renew", **ask)
    assert asks.ask(kind="lost", **ask).kind == "lost"
    assert not LoanPeriod.objects.exists()


@pytest.mark.parametrize("left", [False, True])
def test_only_who_is_at_the_school_is_offered_a_renewal(lending, out, as_, left):
    if left:
        out.pupil.left_on = make.TODAY
        out.pupil.save()
    school, offered = out.horn.school.slug, not left

    family = as_(lending.guardian.user).get(reverse("desk:family-horn", args=(out.pk,))).content.decode()
    asked = make.ask(out, lending.guardian.user, kind="renew", words="Until May")
    assert (reverse("desk:family-renew", args=(out.pk,)) in family) is offered
    teacher = as_(lending.teacher)
    for page in (reverse("loans:loan", args=(school, out.pk)), reverse("loans:ask", args=(school, asked.pk))):
        shown = teacher.get(page).content.decode()
        assert (reverse("loans:renew", args=(school, out.pk)) in shown) is offered


def test_an_overdue_loan_of_a_leaver_is_not_sent_to_be_renewed_before_a_swap(lending, out):
    out.pupil.left_on = make.TODAY
    out.pupil.save()
    other = make.horn(lending.school)
    make.check(other, lending.teacher)

    with pytest.raises(Refused, match="left the school on"):
        swapping.swap(
            loan=out,
            to=other,
            came_back=(),
            look_over=lambda horn: make.check(horn, lending.teacher),
            mouthpiece_cleaned_on=None,
            notes="",
            by=lending.teacher,
            at=make.NOW + timedelta(days=400),
        )


@pytest.mark.both_engines
@pytest.mark.usefixtures("at_noon")
@pytest.mark.parametrize("chosen", [["horn"], [], ["horn", "due_on", "guardian", "then"]])
def test_a_pupil_who_left_is_issued_no_horn_by_any_step_and_another_may_be_chosen(as_, lending, chosen):
    lending.pupil.left_on = make.TODAY
    lending.pupil.save()
    page = reverse("loans:issue", args=[lending.school.slug])
    whole = {"horn": lending.horn.pk, "due_on": make.TODAY, "guardian": lending.guardian.pk, "then": "sign"}

    answer = as_(lending.teacher).get(page, {"pupil": lending.pupil.pk} | {name: whole[name] for name in chosen})

    said = answer.content.decode()
    assert "left the school on" in said
    assert f'href="{page}{f"?horn={lending.horn.pk}" if chosen else ""}">Choose another pupil</a>' in said
    assert 'type="search"' not in said
    assert "due_on" not in said


@pytest.mark.parametrize(("last", "listed"), [(0, False), (1, True)])
def test_who_leaves_on_a_day_to_come_stands_on_the_page_of_pupils_until_then(lending, as_, at_noon, last, listed):
    pupil = make.pupil(lending.school, name="Ada Quill", left_on=make.TODAY + timedelta(days=last))
    elsewhere = make.pupil(make.school(slug="other"), name="Ada Else", left_on=make.TODAY + timedelta(days=1))
    teacher, here = as_(lending.teacher), [lending.school.slug]

    own = reverse("people:pupil", args=[*here, pupil.pk])
    for words in ("", "quill"):
        said = teacher.get(reverse("people:pupils", args=here), {"q": words}).content.decode()
        assert (f'href="{own}"' in said, elsewhere.name in said) == (listed, False)
    assert "Ada Quill" not in teacher.get(reverse("people:pupils", args=here), {"q": "nobody"}).content.decode()
    said = teacher.get(own).content.decode()
    assert ("Leaves the school on 15 September 2026." in said) is listed
    assert ("Left the school on 14 September 2026." in said) is not listed


@pytest.mark.parametrize(("last", "told"), [(0, "left"), (1, "leaves")])
def test_nobody_is_told_that_a_pupil_left_before_their_last_day(lending, out, as_, at_noon, last, told):
    out.pupil.left_on = make.TODAY + timedelta(days=last)
    out.pupil.save()
    asked = {"horn": make.horn(lending.school).pk, "pupil": out.pupil.pk}

    family = as_(lending.guardian.user).get(reverse("desk:family-horn", args=[out.pk])).content.decode()
    refused = as_(lending.teacher).get(reverse("loans:issue", args=[lending.school.slug]), asked).content.decode()

    assert ("is not at the school any more" in family) is (told == "left")
    assert f"{out.pupil} {told} the school on {14 + last} September 2026." in refused
    with pytest.raises(Refused, match=f" {told} the school on "):
        asks.ask(loan=out, kind="renew", words="", by=lending.guardian.user, at=make.NOW)
