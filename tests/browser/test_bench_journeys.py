"""Four journeys at the bench on a phone and on a tablet, counted in taps: each press and each field typed in is one."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from fleet.ground.access import Role
from fleet.workshop.models import Care
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
DAY = timedelta(days=1)


class Hand:
    """A page that counts what a finger does."""

    def __init__(self, page: Any) -> None:
        self.page, self.taps = page, 0

    def button(self, name: str) -> None:
        self._press(self.page.get_by_role("button", name=name).first)

    def link(self, name: str) -> None:
        self._press(self.page.get_by_role("link", name=name).first)

    def _press(self, what: Any) -> None:
        self.taps += 1
        with self.page.expect_navigation():
            what.click()

    def type(self, label: str, words: str) -> None:
        self.taps += 1
        self.page.get_by_label(label).first.fill(words)

    def open(self, words: str) -> None:
        self.taps += 1
        self.page.locator("summary", has_text=words).first.click()


@pytest.mark.parametrize("width", [820, 390])
def test_the_journeys_of_the_bench_take_few_taps(open_as, width):
    now = timezone.now()
    school = make.school(approve_above=100)
    technician, head = make.staff(Role.TECHNICIAN, school), make.staff(Role.HEAD, school)
    bench, office = Hand(open_as(technician, width=width)), Hand(open_as(head, width=width))
    at = f"/s/{school.slug}"
    taps = {}
    room = make.place(school)

    # A string, from the horn's page.
    horn = make.horn(school, build="double-full", stands_in="F", place=room)
    make.finding(make.check(horn, technician, grade=3, at=now - DAY), "string-broken")
    make.keep([horn])
    bench.page.goto(f"{at}/horns/{horn.pk}/")
    bench.link("Mended now")
    bench.button("Mended, played and checked")
    assert horn.checks.order_by("-at").first().grade == 1
    taps["a string"], bench.taps = bench.taps, 0

    # A stuck slide that goes out, with two quotes and a head's word, from its job.
    stuck = make.horn(school, build="double-full", stands_in="F")
    job = make.job(stuck, technician, at=now - DAY)
    make.finding(make.check(stuck, technician, grade=3, at=now - DAY), "main-slide-frozen", job=job)
    make.keep([stuck])
    bench.page.goto(f"{at}/jobs/{job.pk}/")
    bench.link("Send it to a repairer")
    bench.type("Outside repairer", "Vale Workshop")
    bench.type("Quote in", "210")
    bench.button("Save")
    bench.link("Change")
    bench.type("Another repairer", "Hill Workshop")
    bench.type("Their quote in", "180")
    bench.button("Save the quote")
    bench.button("Take the quote of Hill Workshop")
    office.page.goto(f"{at}/jobs/{job.pk}/")
    office.button("Approve")
    bench.page.goto(f"{at}/jobs/{job.pk}/")
    bench.link("Change")
    bench.type("Sent on", f"{timezone.localdate():%Y-%m-%d}")
    bench.button("Save")
    job.refresh_from_db()
    assert (job.repairer, job.state, job.approved) == ("Hill Workshop", "away", 180)
    taps["a slide sent out"], bench.taps, office.taps = bench.taps + office.taps, 0, 0

    # Twenty horns in one place cleaned, from the page of care: nineteen here and the one above.
    for _ in range(19):
        make.horn(school, build="double-full", stands_in="F", place=room)
    bench.page.goto(f"{at}/care/#clean")
    bench.link("Tick all: cleaning")
    bench.button("Save cleaning")
    taps["a clean of twenty"], bench.taps = bench.taps, 0
    assert Care.objects.filter(kind="clean").count() == 20

    # A fault reported on Monday; the horn brought on Wednesday, mended, checked, and fetched on Thursday.
    loan = make.loan(
        make.horn(school, build="double-full", stands_in="F"), make.pupil(school, make.guardian(school)), head
    )
    report = make.report(loan.horn, loan.guardian.user, pupil=loan.pupil, at=now)
    bench.page.goto(f"{at}/fault-reports/{report.pk}/")
    bench.button("Put it on the bench list")
    job = loan.horn.jobs.get()
    bench.page.goto(f"{at}/jobs/{job.pk}/")
    bench.link("Ask the family to bring it")
    bench.type("Bring it on", f"{timezone.localdate() + 2 * DAY:%Y-%m-%d}")
    bench.button("Save")
    bench.button("It is here: start")
    bench.button("Done")
    # Done leads on to the check.
    bench.button("All fine")
    bench.page.goto(f"{at}/jobs/{job.pk}/")
    bench.button("It was fetched")
    job.refresh_from_db()
    loan.refresh_from_db()
    assert (job.state, bool(job.brought_at), bool(job.fetched_at), loan.returned_on) == ("done", True, True, None)
    taps["Monday to Thursday"], bench.taps = bench.taps, 0

    assert taps == {"a string": 2, "a slide sent out": 13, "a clean of twenty": 2, "Monday to Thursday": 8}
