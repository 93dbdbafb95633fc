import io
import json
import zipfile
from datetime import timedelta

import pytest
from django.contrib.messages import get_messages
from django.db import IntegrityError, transaction
from django.urls import reverse

from fleet.ground.refusal import Refused
from fleet.lending.models import Loan
from fleet.signing.actions import putting_before, signing
from fleet.signing.models import OnlineSignature
from fleet.workshop.models import FaultReport
from tests import make
from tests.pages import folded
from tests.signing.test_issue_pages import action_of, whole

DAY = timedelta(days=1)
pytestmark = [pytest.mark.both_engines, pytest.mark.usefixtures("at_noon")]


@pytest.fixture
def page(lending):
    return reverse("loans:issue", args=(lending.school.slug,))


@pytest.fixture
def staff(lending, as_):
    return as_(lending.teacher)


@pytest.fixture
def family(lending, as_):
    return as_(lending.guardian.user)


@pytest.fixture
def asked(lending, staff, page):
    """A teacher has put the agreement before the guardian; the address of the issue page's last step."""
    address = page + action_of(staff.get(page, whole(lending)))
    assert staff.post(address, {"do": "ask"}).status_code == 302
    return address


def sign(family, name="Maria Example"):
    one = OnlineSignature.objects.get()
    return family.post(reverse("desk:family-sign", args=(one.pk,)), {"typed_name": name, "agreed": "on"})


def test_a_guardian_finds_what_is_to_be_signed_signs_it_and_the_horn_goes_out(lending, staff, family, asked):
    home = family.get(reverse("desk:family"))
    assert f"To sign: {lending.horn} for {lending.pupil}" in home.content.decode()
    assert "not signed yet" in staff.get(asked + "&then=sign").content.decode()

    assert sign(family).status_code == 302
    assert "as “Maria Example”" in staff.get(asked + "&then=sign").content.decode()
    staff.post(asked)

    loan = Loan.objects.get()
    one = loan.online_signature
    assert (one.typed_name, one.signed_by, one.signed_at) == ("Maria Example", lending.guardian.user, make.NOW)
    assert (loan.signed_on, loan.agreement) == (make.TODAY, one.agreement)
    assert "mute, spare string" in one.shown
    assert one.agreement.words in one.shown


def test_what_is_signed_is_kept_word_for_word_as_the_page_showed_it(lending, family, asked):
    one = OnlineSignature.objects.get()
    address = reverse("desk:family-sign", args=(one.pk,))
    before = family.get(address).context["signature"].shown
    sign(family)
    lending.school.local_rules = "New rules."
    lending.school.save()
    lending.horn.notes = "changed"
    lending.horn.save()
    assert family.get(address).context["signature"].shown == before


@pytest.mark.parametrize(
    "change",
    [
        {"due_on": (make.TODAY + 90 * DAY).isoformat()},
        {"accessories": ["mouthpiece"]},
        {"more": ""},
    ],
)
def test_a_signature_for_something_else_does_not_count(lending, staff, family, page, asked, change):
    sign(family)
    other = staff.get(page, whole(lending, **change))
    assert "as “Maria Example”" not in other.content.decode()
    answer = staff.post(page + action_of(other))
    assert answer.status_code == 422
    assert not Loan.objects.exists()


def test_a_signature_for_another_pupil_horn_or_version_is_refused_by_the_action_itself(lending, family, asked):
    sign(family)
    one = OnlineSignature.objects.get()
    due = make.TODAY + 100 * DAY
    things = ["mouthpiece", "case", "mute", "spare string"]
    fitting = {"due_on": due, "signed_on": None, "accessories": things, "online": one}
    sibling = make.pupil(lending.school, lending.guardian)
    other = make.horn(lending.school)
    seen = make.check(other, lending.teacher).pk
    another = "signed was something else"
    for change, why in (
        ({"pupil": sibling}, f"promised to {lending.pupil}"),
        ({"horn": other, "check_seen": seen}, another),
        ({"due_on": due + DAY}, another),
        ({"accessories": things[1:]}, another),
    ):
        with pytest.raises(Refused, match=why):
            lending.issue(**{**fitting, **change})
    loan = lending.issue(**fitting)
    lending.give_back(loan)
    with pytest.raises(Refused):
        lending.issue(**fitting)


def test_a_horn_is_not_issued_before_what_is_on_the_page_is_signed(lending, asked):
    one = OnlineSignature.objects.get()
    with pytest.raises(Refused, match="signs the sheet before"):
        lending.issue(
            due_on=make.TODAY + 100 * DAY,
            signed_on=None,
            accessories=["mouthpiece", "case", "mute", "spare string"],
            online=one,
        )


def test_a_check_made_since_takes_the_page_back(lending, family, asked):
    make.check(lending.horn, lending.teacher, at=make.NOW + timedelta(minutes=1))
    answer = sign(family)
    assert answer.status_code == 409
    assert "looked over again since" in answer.content.decode()


def test_asking_again_with_another_due_date_takes_the_first_back(lending, staff, family, page, asked):
    first = OnlineSignature.objects.get()
    later = staff.get(page, whole(lending, due_on=(make.TODAY + 50 * DAY).isoformat()))
    staff.post(page + action_of(later), {"do": "ask"})
    answer = family.post(reverse("desk:family-sign", args=(first.pk,)), {"typed_name": "Maria", "agreed": "on"})
    assert "has changed something" in answer.content.decode()
    assert OnlineSignature.objects.unused().get() != first


@pytest.mark.parametrize("sent", [{"typed_name": "Maria"}, {"agreed": "on"}, {"agreed": "on", "typed_name": " x "}])
def test_without_a_name_or_the_tick_nothing_is_signed(family, asked, sent):
    one = OnlineSignature.objects.get()
    answer = family.post(reverse("desk:family-sign", args=(one.pk,)), sent)
    assert answer.status_code in {409, 422}
    assert OnlineSignature.objects.get().signed_at is None


def test_the_other_parent_cannot_sign_in_their_place(lending, asked, as_):
    father = make.guardian(lending.school)
    lending.pupil.guardians.add(father)
    assert sign(as_(father.user)).status_code == 404
    with pytest.raises(Refused, match="Only"):
        signing.sign(signature=OnlineSignature.objects.get(), typed_name="Father", by=father.user, at=make.NOW)


def test_a_guardian_who_cannot_sign_in_is_not_offered_the_page(lending, staff, page):
    silent = make.guardian(lending.school, email="", telephone="0123")
    lending.pupil.guardians.set([silent])
    shown = staff.get(page, whole(lending, guardian=silent.pk))
    assert "sign on their page" not in shown.content.decode()
    answer = staff.post(page + action_of(shown), {"do": "ask"})
    assert "no e-mail address" in answer.content.decode()


def test_the_database_refuses_a_signature_without_a_name(lending, asked):
    with pytest.raises(IntegrityError), transaction.atomic():
        OnlineSignature.objects.update(signed_at=make.NOW)


def test_a_family_asks_to_keep_it_longer_and_reads_the_answer(lending, family, staff):
    loan = lending.issue()
    family.post(reverse("desk:family-renew", args=(loan.pk,)), {"words": "Until June, for the concert."})
    today = staff.get(reverse("desk:today", args=(lending.school.slug,))).content.decode()
    assert f"{lending.pupil}’s family asks to keep it longer" in today

    ask = loan.asks.get()
    staff.post(reverse("loans:ask", args=(lending.school.slug, ask.pk)), {"words": "No, sorry."})
    assert "The school answers: <bdi>No, sorry.</bdi>" in folded(family.get(f"/family/{loan.pk}/"))


def test_a_loss_is_told_once_and_stands_on_today(lending, family, staff):
    loan = lending.issue()
    address = reverse("desk:family-lost", args=(loan.pk,))
    family.post(address, {"words": "Left on the bus."})
    again = family.post(address, {"words": "Left on the bus."})
    assert again.status_code == 409
    today = staff.get(reverse("desk:today", args=(lending.school.slug,))).content.decode()
    assert "says it is lost" in today


def test_a_family_sees_what_becomes_of_a_fault_it_reported(lending, family):
    loan = lending.issue()
    job = make.job(make.horn(lending.school), lending.teacher, state="parts")
    FaultReport.objects.create(
        horn=lending.horn,
        pupil=lending.pupil,
        by=lending.guardian.user,
        at=make.NOW,
        words="The string broke.",
        job=job,
        answered_at=make.NOW,
    )
    assert "The repairer waits for a part." in folded(family.get(f"/family/{loan.pk}/"))


def test_a_familys_data_holds_theirs_and_nobody_elses(lending, family, elsewhere):
    loan = lending.issue()
    stranger = make.pupil(lending.school, make.guardian(lending.school), name="Stranger Child")
    make.loan(make.horn(lending.school), stranger, lending.teacher)
    father = make.guardian(lending.school, name="Other Parent")
    lending.pupil.guardians.add(father)
    make.loan(lending.horn, lending.pupil, lending.teacher, returned_on=make.TODAY)
    Loan.objects.exclude(pk=loan.pk).filter(pupil=lending.pupil).update(guardian=father)
    make.letter(loan, address="a@example.org", words="Dear …")
    make.charge(loan, lending.teacher)
    mine, his = make.horn(lending.school), make.horn(lending.school)
    make.sheet(mine, lending.pupil, lending.teacher, guardian=lending.guardian)
    make.sheet(his, lending.pupil, lending.teacher, guardian=father)

    answer = family.get(reverse("desk:family-data"))
    with zipfile.ZipFile(io.BytesIO(answer.content)) as file:
        words = file.read("data.json").decode()
    data = json.loads(words)

    (pupil,) = data["pupils"]
    assert (pupil["name"], len(pupil["loans"]), pupil["charges"][0]["amount"]) == (lending.pupil.name, 2, "30.00")
    assert pupil["letters"][0]["words"] == "Dear …"
    assert [one["horn__number"] for one in pupil["sheets_to_sign"]] == [mine.number]
    for hidden in ("Stranger Child", "Other Parent", elsewhere.pupil.name, father.email, str(lending.teacher)):
        assert hidden not in words


def test_what_waits_is_taken_back_on_the_page_that_asked_and_once_only(lending, staff, asked):
    assert staff.post(asked, {"do": "take-back"}).status_code == 302
    assert OnlineSignature.objects.get().withdrawn_at == make.NOW
    staff.post(asked, {"do": "take-back"})
    assert OnlineSignature.objects.count() == 1


def test_what_was_signed_meanwhile_is_not_taken_back_unseen(staff, family, asked):
    sign(family)
    assert staff.post(asked, {"do": "take-back"}).status_code == 409
    assert OnlineSignature.objects.get().withdrawn_at is None


def second_family(lending):
    guardian = make.guardian(lending.school, name="Second Guardian")
    return make.pupil(lending.school, guardian, name="Second Pupil", group="Band")


def test_a_horn_on_one_familys_page_is_not_put_before_another_until_it_is_taken_back(lending, staff, page, asked):
    other = second_family(lending)
    whole_address = whole(lending, pupil=other.pk, guardian=other.guardians.get().pk)

    shown = staff.get(page, whole_address)
    words = f"{lending.horn} waits for {lending.guardian}’s signature, for {lending.pupil}."
    assert words in shown.content.decode()
    answer = staff.post(page + action_of(shown), {"do": "ask"})
    assert answer.status_code == 409
    assert f"{words} Take it back first." in answer.content.decode()
    one = OnlineSignature.objects.get()
    assert (one.pupil, one.withdrawn_at) == (lending.pupil, None)

    here = page + action_of(shown)
    assert staff.post(here, {"do": "take-back-other", "signature": one.pk}).status_code == 302
    one.refresh_from_db()
    assert one.withdrawn_at == make.NOW
    assert staff.post(here, {"do": "ask"}).status_code == 302
    assert OnlineSignature.objects.unused().get().pupil == other


def test_what_waits_is_taken_back_by_its_key_and_leads_back_to_where_it_was_in_the_way(lending, staff, page, asked):
    one = OnlineSignature.objects.get()
    address = f"{page}?horn={lending.horn.pk}&next=/s/{lending.school.slug}/matching/%3Fclass=Band"
    assert f'name="signature" value="{one.pk}"' in staff.get(address).content.decode()
    for said in ({"signature": one.pk + 1}, {}):
        unknown = staff.post(address, {"do": "take-back-other", **said})
        assert [str(word) for word in get_messages(unknown.wsgi_request)] == []
    assert OnlineSignature.objects.unused().exists()
    answer = staff.post(address, {"do": "take-back-other", "signature": one.pk})
    assert answer.url == f"/s/{lending.school.slug}/matching/?class=Band"
    assert not OnlineSignature.objects.unused().exists()


def test_matching_leaves_a_horn_on_a_familys_page_and_its_pupil_out_and_says_why(lending, staff, asked):
    other = second_family(lending)
    lending.pupil.group = "Band"
    lending.pupil.save()
    address = reverse("loans:matching", args=(lending.school.slug,)) + "?class=Band"

    proposal = staff.get(address)
    assert (list(proposal.context["table"].data), proposal.context["in_all"]) == ([], 1)
    assert f"waits for {lending.guardian}’s signature, for {lending.pupil}." in proposal.content.decode()
    putting_before.take_back(
        signature=OnlineSignature.objects.get(), signed_seen=False, by=lending.teacher, at=make.NOW
    )
    again = staff.get(address)
    assert [line.horn for line in again.context["table"].data] == [lending.horn]
    assert again.context["in_all"] == 2
    assert other.name in again.content.decode()


def test_a_batch_stops_at_a_horn_that_waits_on_another_familys_page_and_leads_to_taking_it_back(lending, staff, asked):
    other = second_family(lending)
    batch = staff.get(reverse("loans:batch", args=(lending.school.slug,)), {"pair": f"{other.pk}.{lending.horn.pk}"})
    (entry,) = batch.context["batch"].entries
    assert entry.stop == f"{lending.horn} waits for {lending.guardian}’s signature, for {lending.pupil}."
    assert "Take it back from their page" in staff.get(entry.way_out).content.decode()


def test_no_family_is_asked_to_sign_for_a_pupil_who_left_a_moment_ago(lending):
    # The page had the pupil before they left.
    type(lending.pupil).objects.update(left_on=make.TODAY)

    with pytest.raises(Refused, match="left the school"):
        lending.put_before()


def test_a_horn_on_a_familys_page_goes_to_no_other_pupil_of_the_same_name(lending, asked):
    namesake = make.pupil(lending.school, lending.guardian, name=lending.pupil.name)

    with pytest.raises(Refused, match="Take it back first"):
        lending.issue(pupil=namesake)

    assert OnlineSignature.objects.unused().get().pupil == lending.pupil


@pytest.mark.parametrize(
    ("since", "why", "label"),
    [
        ("checked", "looked over again since it was asked for: ask %s again", "Ask again"),
        ("left", "left the school on ", "Take it back"),
        ("leaves", "leaves the school on ", "Take it back"),
    ],
)
@pytest.mark.parametrize("signed", [False, True])
def test_what_would_not_be_lent_like_that_any_more_says_so_to_the_school_and_is_not_asked_of_the_family(
    lending, staff, family, asked, since, why, label, signed
):
    if signed:
        sign(family)
    if since == "checked":
        make.check(lending.horn, lending.teacher, at=make.NOW + DAY)
    else:
        type(lending.pupil).objects.filter(pk=lending.pupil.pk).update(
            left_on=make.TODAY + (DAY if since == "leaves" else 0 * DAY)
        )

    today = staff.get(reverse("desk:today", args=(lending.school.slug,))).content.decode()
    assert why.replace("%s", str(lending.guardian)) in today
    assert "hand it out" not in today
    assert "not signed yet" not in today
    horn = staff.get(reverse("desk:horn", args=(lending.school.slug, lending.horn.pk))).content.decode()
    assert label in horn
    again = folded(staff.get(asked + "&then=sign"))
    assert "It would not be lent like that any more: ask again, or take it back." in again
    assert "Take it back from their page" in again
    assert f"for {lending.pupil}" not in family.get(reverse("desk:family")).content.decode()
    shown = folded(family.get(reverse("desk:family-sign", args=(OnlineSignature.objects.get().pk,))))
    assert ("The school has changed something." in shown) is not signed
    assert "hands it out next" not in shown
    assert "typed_name" not in shown
