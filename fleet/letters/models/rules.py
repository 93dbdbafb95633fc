"""How a school wants its letters, and how long it keeps names."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import get_language, gettext

from fleet.ground.fields import check_days
from fleet.ground.languages.known import Language, is_ours, others_of
from fleet.ground.languages.marks import _s_lazy
from fleet.letters.models import wording
from fleet.people.models import School

TO_SIGN = "to-sign"
WORDS = tuple(f"{kind}_{part}" for kind in ("before", "after", "recall", "sign") for part in ("subject", "words"))


class LendingRules(models.Model):
    """How one school reminds and how long it keeps names. A school without a row goes by the defaults."""

    school = models.OneToOneField(School, on_delete=models.CASCADE, related_name="lending_rules")
    reminds = models.BooleanField(_s_lazy("letters go out"), default=True)
    days_before = models.CharField(
        _s_lazy("days before the due date"), max_length=40, blank=True, default="14, 3", validators=[check_days]
    )
    days_after = models.CharField(
        _s_lazy("days after the due date"), max_length=40, blank=True, default="1, 7, 21", validators=[check_days]
    )
    before_subject = models.CharField(_s_lazy("subject"), max_length=120, default=wording.BEFORE[0])
    before_words = models.TextField(_s_lazy("before it is due"), max_length=3000, default=wording.BEFORE[1])
    after_subject = models.CharField(_s_lazy("subject"), max_length=120, default=wording.AFTER[0])
    after_words = models.TextField(_s_lazy("when it is overdue"), max_length=3000, default=wording.AFTER[1])
    recall_subject = models.CharField(_s_lazy("subject"), max_length=120, default=wording.RECALLED[0])
    recall_words = models.TextField(_s_lazy("when it is recalled"), max_length=3000, default=wording.RECALLED[1])
    sign_subject = models.CharField(_s_lazy("subject"), max_length=120, default=wording.TO_SIGN[0])
    sign_words = models.TextField(
        _s_lazy("when an agreement waits to be signed"), max_length=3000, default=wording.TO_SIGN[1]
    )
    # What a school wrote of them in other languages: by their codes, then by the names of the columns above.
    in_languages = models.JSONField(default=dict, db_default={})
    names_kept_days = models.PositiveIntegerField(
        _s_lazy("names are kept this many days"),
        default=730,
        validators=[MinValueValidator(30), MaxValueValidator(20_000)],
        help_text=_s_lazy("After the pupil has left and the last loan has ended. Your data-protection lead decides."),
    )

    class Meta:
        app_label = "loans"

    def __str__(self) -> str:
        return f"lending at {self.school}"

    def words_for(self, occasion: str) -> tuple[str, str]:
        """(subject, body) of an occasion, with their placeholders, in the language that is spoken now as far as the
        school wrote them in it or they are ours."""
        if occasion == "moved":
            return gettext(wording.MOVED[0]), gettext(wording.MOVED[1])
        kind = (
            "before"
            if occasion.startswith("before")
            else {"recalled": "recall", TO_SIGN: "sign"}.get(occasion, "after")
        )
        return self.spoken(f"{kind}_subject"), self.spoken(f"{kind}_words")

    def spoken(self, name: str) -> str:
        """One of `WORDS` in the language that is spoken now."""
        written: str = self.in_languages.get(get_language() or "", {}).get(name, "")
        return written or gettext(getattr(self, name))

    @property
    def lacking(self) -> list[Language]:
        """The languages of its families in which a letter stands as the school wrote it in its own."""
        own = [name for name in WORDS if not is_ours(getattr(self, name))]
        others = others_of(self.school.languages, self.school.language)
        return [one for one in others if not set(own) <= self.in_languages.get(one.code, {}).keys()]
