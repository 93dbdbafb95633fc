"""A school's own wording of a sentence, given and taken back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from secrets import token_hex

from django.db import transaction
from django.utils.translation import gettext as _s

from fleet.ground.languages.own import set_apart, texts, wrong_with
from fleet.ground.refusal import Refused
from fleet.people.actions.schools import locked_school
from fleet.people.models import OwnWords, School, User
from fleet.record.actions.recording import record
from fleet.record.models import Deed


@transaction.atomic
def word(*, school: School, language: str, text: str, forms: Sequence[str], by: User, at: datetime) -> None:
    """From now on the school says it so, to families of this language; "" is ours again."""
    now, ours = locked_school(school.pk), texts(language).get(text, ())
    if len(ours) != len(forms):
        raise Refused(_s("The site says this sentence no more."))
    held = OwnWords.objects.filter(school=now, language=language, text=text)
    before = dict(held.values_list("form", "said"))
    wanted = {form: set_apart(language, said) for form, said in enumerate(forms) if said}
    after = {form: said for form, said in wanted.items() if said != set_apart(language, ours[form])}
    for form, said in after.items():
        if wrong := wrong_with(ours[form], said):
            raise Refused(wrong)
    if before == after:
        return
    held.delete()
    OwnWords.objects.bulk_create(
        OwnWords(school=now, language=language, text=text, form=form, said=said) for form, said in after.items()
    )
    now.own_words_mark = token_hex(8) if OwnWords.objects.filter(school=now).exists() else ""
    now.save(update_fields=["own_words_mark"])
    told = [
        [language, before.get(form, ours[form]), after.get(form, ours[form])]
        for form in range(len(ours))
        if before.get(form) != after.get(form)
    ]
    record(deed=Deed.WORDED, school=now, by=by, at=at, told=told)
