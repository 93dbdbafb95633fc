"""What signing has to tell of horns: its share of what is kept on them."""

from __future__ import annotations

from typing import Any

from django.db.models import OuterRef, Subquery, Value
from django.db.models.functions import Coalesce

from fleet.signing.models import OnlineSignature


def kept() -> dict[str, Any]:
    """Signing's share of what is kept on a horn (see `register.queries.kept`)."""
    promised = OnlineSignature.objects.unused().filter(horn=OuterRef("pk")).order_by("-asked_at", "-pk")
    return {"promised_to": Coalesce(Subquery(promised.values("pupil__name")[:1]), Value(""))}
