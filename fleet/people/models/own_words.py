"""How a school words a sentence of ours to its families."""

from __future__ import annotations

from django.db import models

from fleet.ground.languages.known import choices
from fleet.people.models.schools import School


class OwnWords(models.Model):
    """One sentence in one language. `text` is ours in English, as it stands in the source; where that counts, `form`
    says which of its forms."""

    school = models.ForeignKey(School, on_delete=models.CASCADE, related_name="own_words")
    language = models.CharField(max_length=8, choices=choices)
    text = models.CharField(max_length=1000)
    form = models.PositiveSmallIntegerField(default=0, db_default=0)
    said = models.CharField(max_length=1000)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["school", "language", "text", "form"],
                name="own_words_once",
                violation_error_message="Said twice.",
            ),
        ]
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.said
