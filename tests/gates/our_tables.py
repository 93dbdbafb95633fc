"""The texts that stand in our own tables and not beside a mark: with the file each is from."""

from __future__ import annotations

from collections.abc import Iterator

Text = str | tuple[str, str]


def of_data() -> Iterator[tuple[str, Text]]:
    """What families read of our own tables: kinds of horn, faults, how a horn is."""
    from fleet.desk.queries.horns import said_first
    from fleet.lending.models import LoanPeriod
    from fleet.lending.models.accessories import USUAL_ACCESSORIES
    from fleet.register.models import Horn
    from fleet.register.models.kinds import key_in_english
    from fleet.workshop.models import ConditionCheck, Finding
    from fleet.workshop.models.faults import catalogue as faults
    from fleet.workshop.models.fitted import NOUN, PLACES
    from identify.core.horns.catalogue import catalogue as builds

    for build in builds().values():
        yield "identify/core/data/builds.toml", build.name
        yield "identify/core/data/builds.toml", said_first(build)
        yield "identify/core/data/builds.toml", build.about
        for lever in build.thumb_levers:
            if lever.words:
                yield "identify/core/data/builds.toml", lever.words
        if build.reversible:
            yield from (("identify/core/data/builds.toml", key_in_english(stand.name)) for stand in build.stands)
    yield from (("fleet/workshop/models/faults.toml", fault.words) for fault in faults().by_code.values())
    for choices in (Horn.Grade, ConditionCheck.FinishGrade, Finding.Severity, LoanPeriod.Kind):
        yield from (("fleet/register/models", str(label)) for label in choices.labels)
    for name in ("wrap", "finish"):
        yield from (("fleet/register/models", str(label)) for _, label in Horn._meta.get_field(name).choices or ())
    yield from (("fleet/lending/models/loans.py", thing) for thing in USUAL_ACCESSORIES)
    for noun in NOUN.values():
        yield "fleet/workshop/models/fitted.py", f"%(places)s {noun}"
    for names in PLACES.values():
        yield from (("fleet/workshop/models/fitted.py", name) for name in names.values())


def of_data_for_staff() -> Iterator[tuple[str, Text]]:
    """What staff alone read: kinds of horn, what is done about a fault, works, care, and what to mind."""
    from fleet.workshop.models.care import DO
    from fleet.workshop.models.faults import catalogue as faults
    from fleet.workshop.models.works import works

    known = faults()
    for part in known.parts:
        yield "fleet/workshop/models/faults.toml", part.name
    for fault in known.by_code.values():
        said = (fault.do, fault.stops, fault.measure.what if fault.measure else "")
        yield from (("fleet/workshop/models/faults.toml", one) for one in said if one)
    yield from (("fleet/workshop/models/faults.toml", one) for one in known.cautions.values())
    for work in works().values():
        yield from (("fleet/workshop/models/works.toml", one) for one in (work.words, work.do, *work.cautions) if one)
    yield from (("fleet/workshop/models/care.py", one) for one in DO.values())
    yield from _of_lists_for_staff()
    yield from _of_horns_for_staff()


def _of_lists_for_staff() -> Iterator[tuple[str, Text]]:
    """What columns of lists are called, and rows that something else points to."""
    from fleet.exchange.actions.lists.every import kind_of
    from fleet.exchange.models import ListKey
    from fleet.lending.models import Loan
    from fleet.people.models import Guardian, Opening, Pupil
    from fleet.record.queries.pointing import counted, pointing_to
    from fleet.register.models import Horn

    for key in ListKey.values:
        yield from (("fleet/exchange/actions/lists", column.label) for column in kind_of(key).columns)
    for model in (Horn, Loan, Pupil):
        for one in pointing_to(model):
            yield "fleet/record/queries/pointing.py", str(one.related_model._meta.verbose_name)
    for model in (Guardian, Pupil):
        for one in pointing_to(model):
            if one.related_model is not Opening:
                yield "fleet/record/queries/pointing.py", counted(one.related_model)


def _of_horns_for_staff() -> Iterator[tuple[str, Text]]:
    from fleet.ground.languages.known import KNOWN
    from fleet.ground.wording import with_article
    from fleet.register.models.kinds import key_in_english
    from identify.core.horns.catalogue import catalogue as builds

    yield from (("fleet/ground/languages/known.py", one.english) for one in KNOWN.values())
    for build in builds().values():
        file = "identify/core/data/builds.toml"
        yield file, with_article(build.name)
        yield file, build.certainty
        yield from ((file, key_in_english(stand.name)) for stand in build.stands)
        yield from ((file, form.form_words) for form in build.forms if form.form_words)
        yield from ((file, one) for lever in build.levers for one in (lever.name, f"the {lever.name} lever"))
    yield from _of_the_core()


def _of_the_core() -> Iterator[tuple[str, Text]]:
    """Words that the core looks up and puts into its sentences."""
    from identify.core.drawing import hand, whole
    from identify.core.fingering import teaching, words
    from identify.core.hearing import kept_notes, listening, sound, sounded
    from identify.core.horns.air import TUBES
    from identify.core.horns.broken import states_of
    from identify.core.horns.builds import stand_name
    from identify.core.horns.catalogue import catalogue as builds
    from identify.core.horns.pitch import PART_KEYS
    from identify.core.reasoning import numbers, reasons
    from identify.core.reasoning.evidence import CHECKS

    found: dict[str, tuple[str, ...] | list[str]] = {
        "drawing/hand.py": [*(finger for finger, *_ in hand.FINGERS), hand.THUMB],
        "drawing/whole.py": [*whole.SHAPES.values(), *whole.BELLS.values(), *whole.KINDS.values()],
        "fingering/words.py": [*words.KINDS.values(), *words.PARTS.values(), *teaching.LAYERS.values()],
        "horns/pitch.py": [part.words for part in PART_KEYS.values()],
        "hearing/listening.py": [*listening.REASONS.values()],
        "hearing/kept_notes.py": [words for _, words in kept_notes.FIELDS.values()],
        "hearing/sound.py": [*dict.fromkeys(name for _, name in sound.OTHER_FILES), sound.MP4],
        "hearing/sounded.py": [*sounded.INTERVALS.values()],
        "horns/air.py": [tube.name for tube in TUBES.values()],
        "horns/builds.py": [
            stand_name(side.tube, build.family).replace("b", "♭") for build in builds().values() for side in build.sides
        ],
        "horns/broken.py": [
            words
            for build in builds().values()
            for state in states_of(build)
            for words in (state.part, state.wrong.words, state.wrong.look)
        ],
        "reasoning/numbers.py": [
            *(*numbers.NUMBERS, *numbers.ORDINALS.values(), *numbers.INTERVALS, *numbers.FINGERS.values()),
            *(*numbers.ONES.values(), *numbers.MANY.values()),
        ],
        "reasoning/reasons.py": [
            *(reasons.LONG, reasons.WIDE, reasons.PLAYED, reasons.VALVES_ARE, reasons.POINTS, reasons.WOUND),
            *(*reasons.HANDS_USED.values(), *reasons.KINDS.values(), *reasons.PLACES.values()),
            *(*reasons.SHAPES.values(), *reasons.LENGTHS_NOT.values()),
        ],
        "reasoning/evidence.py": [check.words for check in CHECKS.values()],
    }
    for file, texts in found.items():
        yield from ((f"identify/core/{file}", one) for one in texts)
