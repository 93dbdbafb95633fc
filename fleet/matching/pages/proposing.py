"""The pages of matching: which pupil should have which horn, and by which rules. The proposal changes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _s

from fleet.ground.answering import answer, posted
from fleet.ground.languages.marks import _s_lazy
from fleet.ground.paging import COUNTED_TO
from fleet.ground.wording import in_reading_order
from fleet.matching.actions import keep_rules
from fleet.matching.forms import MatchingRulesForm, plan_forms
from fleet.matching.pages.table import ProposalLine, ProposalTable
from fleet.matching.queries.asked import MatchingAsked, asked_from
from fleet.matching.queries.buying import bought_in_words, to_look_at
from fleet.matching.queries.candidates import Pool, gather
from fleet.matching.queries.others import others_for
from fleet.matching.queries.wishes import weights_of
from fleet.matching.solving.assigning import Pair, Proposal, propose
from fleet.matching.solving.reasons import listed, shortages, tied, why_left, whys
from fleet.matching.solving.remedies import BUYING, Move, remedies
from fleet.people.forms.one_of_many import SHOWN, to_tick
from fleet.people.models import Pupil
from fleet.people.queries.classes import class_names, classes, page_of_names
from fleet.people.queries.seats import Seat, SeatedRequest
from fleet.register.models.kinds import stand_in_words
from fleet.signing.forms.batches import pairs_in_query
from fleet.signing.models import MOST_IN_A_BATCH

# More ties than this are told of once, above the table.
FEW_TIES = 5


def matching(request: SeatedRequest) -> HttpResponse:
    school = request.seat.school
    known = classes(school, None if request.GET.get("all") == "1" else request.GET.getlist("class"))
    asked = asked_from(request.GET, weights_of(school), known)
    shown: dict[str, Any] = {
        "asked": asked,
        "rules": MatchingRulesForm(initial=asked.weights.as_dict()),
    }
    if not asked.groups or request.GET.get("do") == "find":
        return render(request, "loans/matching.html", {**shown, **_classes(request)})
    pool = gather(school, asked.groups, today=request.today, leave=asked.leave, without=asked.without)
    proposal = propose(pool.pupils, pool.horns, asked.weights, fixed=asked.fixed)
    shown |= _said(proposal, pool, asked, request.seat)
    return render(request, "loans/proposal.html", shown)


def _classes(request: SeatedRequest) -> dict[str, Any]:
    """Those to choose from: all of a small school, of another what is ticked and the first that have the words."""
    school, words, before = request.seat.school, request.GET.get("find", ""), set(request.GET.getlist("class"))
    names: Iterable[str] = (named := class_names(school))
    if not words:
        # The first others are enough then, and one that tells whether there are more.
        names = [*named.filter(group__in=before), *named.exclude(group__in=before)[: SHOWN + 1]]
    in_none = (group for group, _ in classes(school, [""]))
    ticked, found, more = to_tick(((one, one or _s("in no class")) for one in (*names, *in_none)), before, words)
    pupils = dict(classes(school, [name for name, _ in (*ticked, *found)]))
    offered = [
        {"name": name, "label": label, "pupils": pupils[name], "ticked": name in before}
        for name, label in (*ticked, *found)
        if name in pupils
    ]
    many = Pupil.objects.at(school).filter(left_on=None)[: COUNTED_TO + 1].count()
    everybody = _s("All pupils") if many > COUNTED_TO else _s("All %(pupils)s pupils") % {"pupils": many}
    shown = {"classes": offered, "find": words, "more": more, "none": not found, "first": SHOWN}
    return {**shown, "everybody": everybody if many else ""}


def rules(request: SeatedRequest) -> HttpResponse:
    """The weights, and what each class plays on and where."""
    school = request.seat.school
    asked = asked_from(request.GET, weights_of(school), [])
    page = page_of_names(school, request.GET.get("page"), in_none=False)
    shown = enumerate(page.rows, page.first - 1)
    groups = enumerate(class_names(school)) if request.method == "POST" else shown
    plans = plan_forms(posted(request), school=school, groups=list(groups))
    form = MatchingRulesForm(posted(request), plans=plans, initial=asked.weights.as_dict())
    return answer(
        request,
        form,
        lambda: keep_rules(
            school=school,
            weights=form.weights,
            plans={one.group: one.plan for one in plans},
            by=request.user,
            at=request.now,
        ),
        page="loans/matching_rules.html",
        shown=lambda: {"plans": plans, "page": page},
        said=_s("The rules are kept. Every proposal goes by them from now on."),
        then=lambda _: request.seat.here("loans:matching"),
    )


def _said(proposal: Proposal, pool: Pool, asked: MatchingAsked, seat: Seat) -> dict[str, Any]:
    why, same = whys(proposal, pool.pupils), tied(proposal)
    few = len(same) <= FEW_TIES
    lines = [
        _line(pair, pool, asked, [*why[pair.pupil.key], *(_tie(same.get(pair.pupil.key)) if few else [])])
        for pair in proposal.pairs
    ]
    short = [
        {
            "why": why_left(proposal, one),
            "pupils": [(pool.people[row.key], asked.query(choose=row.key)) for row in one.left],
        }
        for one in shortages(proposal)
    ]
    ready = [pair for pair in proposal.pairs if pair.horn.held_by is None]
    steps = remedies(proposal, pool.could_be)
    plans = {(row.group, stand_in_words(row.stand), row.room) for row in pool.pupils if row.group}
    return {
        "table": ProposalTable(lines, seat=seat),
        "served": len(lines),
        "short": short,
        "left": len(proposal.left),
        "in_all": len(pool.pupils),
        "kept": sum(pair.kept for pair in proposal.pairs),
        "back_first": sum(pair.horn.held_by is not None and not pair.kept for pair in proposal.pairs),
        "ready": len(ready),
        "most": MOST_IN_A_BATCH,
        "batch": pairs_in_query((pair.pupil.key, pair.horn.key) for pair in ready[:MOST_IN_A_BATCH]),
        "ties": len(same),
        "steps": [_line_of(list(same), pool, seat) for _, same in groupby(steps, key=lambda step: step.remedy.line)],
        "first": to_look_at(pool, steps),
        "unused": [pool.instruments[row.key] for row in proposal.unused],
        "aside": sorted(pool.aside.items()),
        "waiting": pool.waiting,
        "back": f"{reverse('loans:matching', args=(seat.school.slug,))}?{asked.query()}",
        "plans": sorted(plans, key=lambda plan: in_reading_order(plan[0])),
        "put_back": _put_back(pool, asked),
        "lost": _lost(proposal, pool, asked),
        "chosen": others_for(proposal, pool, asked) if asked.choose in pool.people else None,
        "try_open": asked.weights != asked.kept,
    }


def _line(pair: Pair, pool: Pool, asked: MatchingAsked, words: list[str]) -> ProposalLine:
    pupil, horn = pair.pupil.key, pair.horn.key
    return ProposalLine(
        pool.people[pupil],
        pool.instruments[horn],
        words,
        change=asked.query(choose=pupil),
        fix="" if pair.fixed else asked.fixing(pupil, horn),
        let_go=asked.letting_go(pupil) if pair.fixed else "",
    )


def _tie(number: str | None) -> list[str]:
    return [_s("%(number)s would do as well.") % {"number": number}] if number else []


def _put_back(pool: Pool, asked: MatchingAsked) -> list[dict[str, str]]:
    """What was taken out by hand, each with the address that puts it back."""
    horns = [
        (str(pool.instruments[key]), asked.query(without=_less(asked.without, key)))
        for key in asked.without
        if key in pool.instruments
    ]
    names = dict(Pupil.objects.filter(pk__in=asked.leave, group__in=asked.groups).values_list("pk", "name"))
    people = [(names[key], asked.query(leave=_less(asked.leave, key))) for key in asked.leave if key in names]
    return [{"name": name, "address": address} for name, address in [*horns, *people]]


def _lost(proposal: Proposal, pool: Pool, asked: MatchingAsked) -> list[tuple[str, str]]:
    """Pairs that were fixed and cannot be any more: a sentence, and the address without the pair."""
    held = {(pair.pupil.key, pair.horn.key) for pair in proposal.pairs if pair.fixed}
    lost = []
    for pupil, horn in asked.fixed:
        if (pupil, horn) not in held and pupil in pool.people and horn in pool.instruments:
            others = tuple(pair for pair in asked.fixed if pair != (pupil, horn))
            why = _s("%(horn)s cannot be fixed for %(pupil)s now, so it was left out of account.") % {
                "horn": pool.instruments[horn],
                "pupil": pool.people[pupil],
            }
            lost.append((why, asked.query(fixed=others)))
    return lost


def _less(keys: Iterable[int], key: int) -> tuple[int, ...]:
    return tuple(one for one in keys if one != key)


DO = {
    "identify": _s_lazy("Identify"),
    "clean": _s_lazy("Clean the mouthpiece of"),
    "check": _s_lazy("Check"),
    "mend": _s_lazy("Mend"),
    "restring": _s_lazy("Restring"),
}
GO = {
    "clean": "loans:mouthpiece-of",
    "check": "workshop:check-new",
    "mend": "workshop:job-new",
    "restring": "register:stand",
}


def _line_of(same: Sequence[Move], pool: Pool, seat: Seat) -> dict[str, Any]:
    """Remedies that differ only in their horn, as one line: each horn with the page where it is done."""
    remedy = same[0].remedy
    about = _s("about %(minutes)s minutes each") if len(same) > 1 else _s("about %(minutes)s minutes")
    minutes = about % {"minutes": remedy.minutes} if remedy.minutes else ""
    why = f": {remedy.what}" if remedy.what else ""
    if remedy.kind == BUYING:
        said = _s("Buy %(number)s × %(horn)s") if len(same) > 1 else _s("Buy a %(horn)s")
        what, horns = said % {"number": len(same), "horn": bought_in_words(remedy.horn)}, []
    else:
        what = DO[remedy.kind]
        horns = [
            (pool.instruments[key], _where_it_is_done(remedy.kind, key, seat))
            for key in (step.remedy.horn.key for step in same)
        ]
    return {
        "what": what,
        "horns": horns,
        "words": f"{why}, {minutes}." if minutes else f"{why}.",
        "serves": listed([row.name for step in same for row in step.serves], "pupils"),
    }


def _where_it_is_done(kind: str, horn: int, seat: Seat) -> str:
    if kind == "identify":
        return f"{seat.here('identify:walk')}?horn={horn}"
    return seat.here(GO[kind], horn)
