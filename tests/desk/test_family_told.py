"""What a family reads about its own reports and asks: who said it, and what really became of it."""

from datetime import timedelta

import pytest

from fleet.ground.access import Role
from fleet.register.actions.keeping import keep
from tests import make
from tests.pages import folded

pytestmark = pytest.mark.django_db
LATER = make.NOW + timedelta(hours=1)
LATEST = LATER + timedelta(hours=1)


@pytest.fixture
def lent():
    """A loan to a child of two guardians."""
    school = make.school()
    head = make.staff(Role.HEAD, school)
    first, second = make.guardian(school, name="Maria"), make.guardian(school, name="Jon")
    return make.loan(make.horn(school), make.pupil(school, first, second, name="Ada"), head), first, second


@pytest.mark.parametrize(("kind", "said"), [("lost", "said it is lost"), ("renew", "asked to keep it longer")])
def test_each_guardian_reads_who_of_them_asked(as_, lent, kind, said):
    loan, first, second = lent
    make.ask(loan, first.user, kind=kind)

    pages = [folded(as_(one.user).get(f"/family/{loan.pk}/")) for one in (first, second)]

    assert [f"you {said}" in page for page in pages] == [True, False]
    assert [f"Maria {said}" in page for page in pages] == [False, True]


def test_what_the_school_has_not_answered_is_not_offered_again_and_is_taken_back_by_words_of_its_own(as_, lent):
    loan, first, second = lent
    renew, lost = make.ask(loan, first.user, kind="renew"), make.ask(loan, first.user, kind="lost")
    make.report(loan.horn, first.user, pupil=loan.pupil)
    family = as_(first.user)

    for one in (family, as_(second.user)):
        page = folded(one.get(f"/family/{loan.pk}/"))
        assert [f'href="/family/{loan.pk}/{act}/"' in page for act in ("longer", "lost")] == [False, False]
    page = folded(family.get(f"/family/{loan.pk}/"))
    buttons = ("I do not need it longer", "I found it", "Nothing is wrong after all")
    assert all(f"<button>{words}</button>" in page.replace("> ", ">").replace(" <", "<") for words in buttons)
    assert "Take it back" not in page
    for ask in (renew, lost):
        family.post(f"/family/{loan.pk}/taken-back/", {"ask": ask.pk})
    page = folded(family.get(f"/family/{loan.pk}/"))
    assert [f'href="/family/{loan.pk}/{act}/"' in page for act in ("longer", "lost")] == [True, True]
    assert page.count("This was taken back.") == 2


def test_both_guardians_follow_a_fault_that_one_of_them_reported(as_, lent):
    loan, first, second = lent
    make.report(loan.horn, first.user, words="The string broke.", pupil=loan.pupil)

    pages = [folded(as_(one.user).get(f"/family/{loan.pk}/")) for one in (first, second)]

    assert ["“The string broke.”" in page for page in pages] == [True, True]
    assert ["Maria said:" in page for page in pages] == [False, True]


@pytest.mark.parametrize(
    ("state", "job", "reads", "may_be_lost"),
    [
        ("waiting", {}, "The school will say here when to bring it.", True),
        ("waiting", {"bring_on": make.TODAY}, "Please bring it to be mended", True),
        ("bench", {"brought_at": LATER}, "It is being mended.", False),
    ],
)
def test_a_family_that_still_has_the_horn_is_not_told_that_it_waits_for_the_repairer(
    as_, lent, state, job, reads, may_be_lost
):
    loan, first, _ = lent
    waits = make.job(loan.horn, loan.issued_by, state=state, **job)
    make.report(loan.horn, first.user, pupil=loan.pupil, job=waits, answered_at=make.NOW)

    page = folded(as_(first.user).get(f"/family/{loan.pk}/"))

    assert reads in page
    assert "waits for the repairer" not in page
    assert 'class="box good"' not in page
    assert ("It is lost" in page) == may_be_lost


def test_a_family_whose_child_left_is_asked_to_bring_the_horn_and_not_to_keep_it(as_, lent):
    loan, first, _ = lent
    job = make.job(loan.horn, loan.issued_by)
    make.report(loan.horn, first.user, pupil=loan.pupil, job=job, answered_at=make.NOW, answered_by=loan.issued_by)
    type(loan.pupil).objects.filter(pk=loan.pupil.pk).update(left_on=make.TODAY)

    page = folded(as_(first.user).get(f"/family/{loan.pk}/"))

    assert "please bring the horn back" in page
    assert "Keep the horn until then" not in page
    assert "has put it on its repair list" in page


@pytest.mark.parametrize(
    ("found", "mends", "checked", "reads"),
    [
        (("string-broken", "bell-dented"), 1, False, "A repair is done. Still to be mended: bell dented."),
        (("string-broken",), 1, False, "A repair is done. The school has not looked the horn over since."),
        (("string-broken",), 1, True, "It is mended, and the school has looked it over."),
    ],
)
def test_a_family_reads_that_it_is_mended_once_nothing_is_left_and_it_was_looked_over(
    as_, lent, found, mends, checked, reads
):
    loan, first, _ = lent
    staff, horn = loan.issued_by, loan.horn
    check = make.check(horn, staff, grade=3)
    job = make.job(horn, staff, state="done", at=LATER)
    for place, fault in enumerate(found):
        done = place < mends
        make.finding(check, fault, job=job if done else None, mended_at=LATER if done else None)
    if checked:
        make.check(horn, staff, at=LATEST)
    make.report(horn, first.user, pupil=loan.pupil, job=job, answered_at=make.NOW)
    keep([horn])

    page = folded(as_(first.user).get(f"/family/{loan.pk}/"))

    assert reads in page
    assert ("It is mended" in page) == checked
    assert ('class="box good"' in page) == checked
