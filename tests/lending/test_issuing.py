from datetime import timedelta

import pytest

from fleet.ground.access import Role
from fleet.ground.refusal import Refused, WayOut
from fleet.lending.actions.pupils import amend
from fleet.lending.models import Agreement, Loan
from fleet.lending.queries.loans import current_loan
from fleet.people.queries.seats import Seat
from fleet.register.models import Horn
from fleet.templatetags.fleet_tags import way_out
from tests import make

DAY = timedelta(days=1)


def test_issuing_moves_the_horn_to_its_holder_with_the_due_date(lending):
    loan = lending.issue(accessories=["mouthpiece", " Case ", "case", ""])

    horn = Horn.objects.get(pk=lending.horn.pk)
    assert (horn.where, horn.holder_name, horn.due_on) == ("out", lending.pupil.name, loan.due_on)
    assert [thing.name for thing in loan.accessories.all()] == ["mouthpiece", "case"]
    assert (loan.check_at_issue, loan.stands_in, loan.issued_on) == (lending.check, "F", make.TODAY)
    assert current_loan(horn) == loan


def test_the_pupils_name_finds_the_horn_while_it_is_out(lending):
    lending.issue()

    assert list(Horn.objects.having_words(lending.pupil.name, school=lending.school)) == [lending.horn]


def test_a_renamed_pupil_keeps_the_horn_under_the_new_name(lending, elsewhere):
    lending.issue()
    amend(pupil=lending.pupil, changes={"name": "Noor Haddad"}, by=lending.teacher, at=make.NOW)

    assert Horn.objects.get(pk=lending.horn.pk).holder_name == "Noor Haddad"
    assert Horn.objects.get(pk=elsewhere.horn.pk).holder_name == elsewhere.pupil.name


def refusal(lending, **changes):
    with pytest.raises(Refused) as no:
        lending.issue(**changes)
    assert not Loan.objects.filter(horn__school=lending.school).exclude(returned_on__lt=make.TODAY).exists()
    return no.value


def changed(lending, **columns):
    Horn.objects.filter(pk=lending.horn.pk).update(**columns)
    return refusal(lending)


def test_a_horn_that_nobody_has_identified_is_not_lent(lending):
    no = changed(lending, build="", stands_in="")

    assert "what" in no.sentence
    assert no.way_out == WayOut("identify:walk", "Identify it", query=(("horn", str(lending.horn.pk)),))


def test_a_horn_whose_test_note_is_owed_is_not_lent(lending):
    no = changed(lending, test_note_owed=True)

    assert "test note" in no.sentence
    assert no.way_out == WayOut("register:sound", "Sound the test note", (lending.horn.pk,))


@pytest.mark.parametrize("grade", [3, 4])
def test_a_horn_that_must_be_mended_is_not_lent(lending, grade):
    no = changed(lending, grade=grade)

    assert f"graded {grade}" in no.sentence
    assert no.way_out is not None
    assert no.way_out.page == "workshop:job-new"


def test_a_horn_that_was_never_checked_is_not_lent(lending):
    no = changed(lending, grade=None, checked_on=None)

    assert no.sentence == f"{lending.horn} has never been checked."
    assert no.way_out == WayOut("workshop:check-new", "Check its condition now", (lending.horn.pk,))


def test_a_horn_in_the_workshop_is_not_lent(lending):
    no = changed(lending, on_bench=True)

    assert no.sentence == f"{lending.horn} is in the workshop."


def test_a_horn_that_is_not_found_is_not_lent(lending):
    no = changed(lending, not_found_on=make.TODAY)

    assert no.sentence == f"{lending.horn} has not been found since 14 September 2026."
    assert no.way_out == WayOut("register:standing", "Record that it was found", (lending.horn.pk,))


def test_a_withdrawn_horn_is_not_lent(lending):
    no = changed(lending, withdrawn_on=make.TODAY)

    assert no.sentence == f"{lending.horn} was withdrawn on 14 September 2026."


def test_who_asks_for_a_horn_that_is_out_reads_who_has_it_until_when(lending):
    lending.issue()
    other = make.pupil(lending.school, lending.guardian)

    with pytest.raises(Refused) as no:
        lending.issue(pupil=other)

    assert no.value.sentence == (f"{lending.horn} is out: {lending.pupil.name} has it, due back on 2 April 2027.")
    assert Loan.objects.at(lending.school).count() == 1


def test_a_horn_waits_until_its_mouthpiece_was_cleaned_after_the_last_player(lending):
    loan = lending.give_back(
        lending.issue(at=make.NOW - 9 * DAY, signed_on=make.TODAY - 9 * DAY),
        mouthpiece_cleaned_on=None,
        returned_on=make.TODAY - DAY,
    )
    latest = lending.horn.checks.order_by("-pk").first()

    no = refusal(lending, check_seen=latest.pk)

    assert no.way_out == WayOut("loans:mouthpiece-of", "Record the cleaning", (lending.horn.pk,))
    assert "mouthpiece" in no.sentence
    assert loan.mouthpiece_cleaned_by is None


def test_nothing_is_issued_without_a_signature(lending):
    assert "signs the sheet before" in refusal(lending, signed_on=None).sentence


def test_nobody_signs_tomorrow(lending):
    assert "has not come yet" in refusal(lending, signed_on=make.TODAY + DAY).sentence


def test_a_due_date_in_the_past_is_refused(lending):
    no = refusal(lending, due_on=make.TODAY - DAY)

    assert no.sentence == "The due date, 13 September 2026, is in the past."


def test_a_horn_may_be_due_back_on_the_day_it_goes_out(lending):
    assert lending.issue(due_on=make.TODAY).due_on == make.TODAY


def test_a_pupil_of_another_school_gets_no_horn(lending, elsewhere):
    no = refusal(lending, pupil=elsewhere.pupil, guardian=elsewhere.guardian)

    assert no.sentence == "This pupil belongs to another school."


def test_a_pupil_who_left_gets_no_horn(lending):
    lending.pupil.left_on = make.TODAY
    lending.pupil.save()

    assert "left the school" in refusal(lending).sentence


def test_only_a_guardian_of_the_pupil_signs(lending):
    other = make.guardian(lending.school, name="Greta Solberg")

    assert refusal(lending, guardian=other).sentence.startswith("Greta Solberg does not answer for")


def test_a_sheet_with_an_older_agreement_is_not_good_enough(lending):
    make.agreement(lending.school, version=1)
    make.agreement(lending.school, version=2)

    assert "newer version" in refusal(lending, agreement_version=1).sentence


def test_a_sheet_with_an_older_check_is_not_good_enough(lending):
    make.check(lending.horn, lending.teacher, at=make.NOW + timedelta(minutes=5))

    assert "checked again" in refusal(lending).sentence


def test_the_first_words_are_kept_when_they_are_first_signed(lending, elsewhere):
    loan = lending.issue()

    assert loan.agreement.version == 1
    assert Agreement.objects.filter(school=lending.school).count() == 1


def test_more_accessories_than_the_sheet_has_room_for_are_refused_not_dropped(lending):
    no = refusal(lending, accessories=[f"thing {n}" for n in range(17)])

    assert "room for 16" in no.sentence


def test_emoji_and_right_to_left_names_go_through(lending):
    lending.pupil.name = "Zoë 🎺 محمد"
    lending.pupil.save()

    loan = lending.issue(accessories=["שק נשיאה"])

    assert Horn.objects.get(pk=lending.horn.pk).holder_name == "Zoë 🎺 محمد"
    assert loan.accessories.get().name == "שק נשיאה"


def test_whether_a_horn_may_be_lent_takes_no_query(lending, django_assert_num_queries):
    lending.horn.refresh_from_db()
    with django_assert_num_queries(0):
        assert lending.horn.kept_back == []


def test_a_way_out_is_an_address_for_those_who_may_take_it(lending):
    def way(role, horn):
        context = {"seat": Seat(user=lending.teacher, school=lending.school, role=role)}
        return way_out(context, Refused.because(horn.kept_back[0]))

    base = f"/s/{lending.school.slug}/horns/{lending.horn.pk}"
    loan = lending.issue()
    lending.horn.refresh_from_db()
    assert way(Role.TEACHER, lending.horn) == f"{base}/return/"
    assert way(Role.TECHNICIAN, lending.horn) == ""

    lending.give_back(loan, mouthpiece_cleaned_on=None)
    lending.horn.refresh_from_db()
    assert way(Role.TECHNICIAN, lending.horn) == f"{base}/mouthpiece/"

    lending.horn.withdrawn_on = make.TODAY
    assert way(Role.TEACHER, lending.horn) == ""
    assert way(Role.HEAD, lending.horn) == f"{base}/standing/"
    assert way_out({}, Refused.because(lending.horn.kept_back[0])) == ""


def test_a_horn_alone_leads_to_the_page_of_its_loan(lending, client):
    base = f"/s/{lending.school.slug}"

    def ways():
        return [client.get(f"{base}/horns/{lending.horn.pk}/{end}/").url for end in ("return", "mouthpiece")]

    assert ways() == [f"{base}/horns/{lending.horn.pk}/"] * 2
    told = client.get(f"{base}/horns/{lending.horn.pk}/").content.decode()
    assert f"{lending.horn} is not out, so there is nothing to take back." in told
    assert f"{lending.horn} has not been lent yet, so there is no cleaning to record." in told

    loan = lending.issue()
    assert ways() == [f"{base}/loans/{loan.pk}/return/", f"{base}/horns/{lending.horn.pk}/"]
    lending.give_back(loan, mouthpiece_cleaned_on=None)
    assert ways() == [f"{base}/horns/{lending.horn.pk}/", f"{base}/loans/{loan.pk}/mouthpiece/"]
