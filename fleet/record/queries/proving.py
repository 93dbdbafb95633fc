"""Whether a chain of acts is as it was sealed: which act was changed, removed or slipped in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from fleet.record.models import Act, Chain, Deed
from fleet.record.models.acts import sum_of
from fleet.record.models.deeds import EMPTIED, EMPTYING
from fleet.record.queries.numbers import of_ranges


@dataclass(slots=True)
class Proof:
    """What a chain was found to be. `wrong` has a sentence for each act that is not as it was sealed."""

    acts: int = 0
    emptied: int = 0
    seal: str = ""
    wrong: list[str] = field(default_factory=list)


def proof_of(school: int | None, *, known: tuple[int, str] | None = None) -> Proof:
    """Reads a whole chain, act by act. `known` is the number and the beginning of the seal of an act, written down
    elsewhere earlier: whoever can write the database could make a whole chain anew, but not one with that seal."""
    proof = Proof()
    proof.wrong += _wrong(school, proof, known)
    return proof


def _wrong(school: int | None, proof: Proof, known: tuple[int, str] | None) -> Iterator[str]:
    # Read first: what is sealed while this reads on is proven the next time.
    end = Chain.objects.filter(school=school).first() or Chain()
    elsewhere = _brought_in(school)
    emptied: list[int] = []
    last, seal = 0, ""
    for act in Act.objects.of(school).filter(number__lte=end.number).order_by("number").iterator(chunk_size=1000):
        number = act.number or 0
        proof.acts += 1
        if number > last + 1:
            gone = f"Act {last + 1} is" if number == last + 2 else f"Acts {last + 1} to {number - 1} are"
            yield f"{gone} missing."
        elif act.before != seal:
            yield f"Act {number} does not follow the act before it: that one was put there, or sealed anew."
        if act.seal != act.seal_now():
            yield f"Act {number} was changed."
        elif number > elsewhere and act.keys != act.keys_now():
            # Rows have other keys on another site.
            yield f"Act {number} was changed: it is about others than it was."
        for part, words, salt, told in (
            ("who did it", act.by_name, act.by_salt, act.by_sum),
            ("what it tells", act.told, act.told_salt, act.told_sum),
        ):
            if sum_of(salt, words) != told:
                if words or salt:
                    yield f"Act {number} was changed: {part}."
                elif number not in emptied[-1:]:
                    emptied.append(number)
        if known is not None and known[0] == number and not act.seal.startswith(known[1]):
            yield f"Act {number} has another seal than the one written down."
        last, seal = number, act.seal
    proof.seal, proof.emptied = seal, len(emptied)
    if end.number > last:
        yield f"The acts after {last} are missing: there were {end.number}."
    elif end.seal != seal:
        yield f"Act {last} is not the one with which the chain ended."
    if known is not None and known[0] > last:
        yield f"There is no act {known[0]}, whose seal was written down."
    newest = Act.objects.of(school).exclude(number=None).order_by("-number").values_list("number", flat=True).first()
    if (newest or 0) > (Chain.objects.filter(school=school).first() or Chain()).number:
        yield f"Act {newest} was put there: the chain ended before it."
    ranges = list(_said_to_be_emptied(school)) if emptied else []
    for number in emptied:
        if not any(number in some for some in ranges):
            yield f"Act {number} was emptied, and no act says so."


def _said_to_be_emptied(school: int | None) -> Iterator[range]:
    for act in Act.objects.of(school).filter(deed__in=EMPTYING).iterator(chunk_size=1000):
        for line in act.lines:
            if line[0] == EMPTIED:
                yield from of_ranges(line[1])


def _brought_in(school: int | None) -> int:
    """Number of the act since which the school is on this site; 0 where it always was."""
    came = Act.objects.of(school).filter(deed=Deed.SCHOOL_BROUGHT_IN).exclude(number=None).order_by("-number").first()
    return came.number or 0 if came else 0
