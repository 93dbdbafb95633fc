"""Which other record is the same person's: those that are likely, or that somebody looked for."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Case, F, Q, QuerySet, Value, When
from django.utils.translation import gettext as _s

from fleet.ground.languages.marks import _s_lazy
from fleet.ground.sentences import PlainSentences
from fleet.people.models import Guardian, Pupil
from fleet.people.models.searched import DerivedQuerySet, words_of
from fleet.people.models.trigrams import having

MOST = 30


class SamePersonForm(PlainSentences, forms.Form):
    """`words` are what to look for; without any, who shares words of the name or a way to be reached, the more the
    earlier."""

    into = forms.ModelChoiceField(label=_s_lazy("The record that stays"), queryset=Pupil.objects.none())

    def __init__(self, *args: Any, person: Any, words: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.words = words[:80]
        field: Any = self.fields["into"]
        field.queryset = others = self.others(person).order_by("sorted_by", "pk")
        offered = [*self._found(others, person)[: MOST + 1]]
        self.more = len(offered) > MOST
        field.choices = [("", _s("choose a record")), *((one.pk, self.told(one)) for one in offered[:MOST])]
        self.offers = bool(offered)

    def _found(self, others: DerivedQuerySet[Any], person: Any) -> QuerySet[Any]:
        if sent := self.data.get("into", ""):
            # What was chosen stays to be seen, whatever is looked for by now.
            return others.filter(pk=sent) if sent.isdecimal() and len(sent) < 19 else others.none()
        if words := words_of(self.words):
            return others.with_words(words, school=person.school, every=True)
        shared, also = words_of(person.name), self.also(person)
        alike = [*map(having, shared), Q(pk__in=also)]
        points = sum((Case(When(one, then=Value(1)), default=Value(0)) for one in alike), Value(0))
        # Keys, so that each way is an index's: asked in one breath, everybody at the school is looked at.
        keys = others.order_by().with_words(shared, school=person.school, every=False).values("pk").union(also)
        likely: QuerySet[Any] = others.filter(pk__in=keys).annotate(alike=points)
        return likely.order_by(F("alike").desc(), "sorted_by", "pk")

    def others(self, person: Any) -> DerivedQuerySet[Any]:
        raise NotImplementedError

    def also(self, person: Any) -> QuerySet[Any, Any]:
        """The keys of who is likely beside those that share a word of the name."""
        return Pupil.objects.none().values("pk")

    def told(self, one: Any) -> str:
        return str(one.described)


class EnteredTwiceForm(SamePersonForm):
    def others(self, person: Pupil) -> DerivedQuerySet[Pupil]:
        return Pupil.objects.at(person.school).filter(struck_out="").exclude(pk=person.pk)


class SameGuardianForm(SamePersonForm):
    def others(self, person: Guardian) -> DerivedQuerySet[Guardian]:
        others = Guardian.objects.filter(school=person.school).exclude(pk=person.pk).prefetch_related("pupils")
        return others.exclude(name__startswith="former guardian ")

    def also(self, person: Guardian) -> QuerySet[Any, Any]:
        """Who answers for the same pupils or has the same telephone. The same address nobody has: it is kept once."""
        same = Guardian.objects.filter(school=person.school, telephone=person.telephone).exclude(telephone="")
        return Guardian.objects.filter(pupils__in=person.pupils.all()).values("pk").union(same.values("pk"))

    def told(self, one: Guardian) -> str:
        answers = ", ".join(pupil.name for pupil in one.pupils.all())
        if not answers:
            return f"{one} ({one.reached})"
        return _s("%(guardian)s (%(reached)s), for %(pupils)s") % {
            "guardian": one,
            "reached": one.reached,
            "pupils": answers,
        }
