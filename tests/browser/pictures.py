"""The three pictures of README, made anew from the demo school: `make pictures`. No test; it is never collected."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from fleet.desk.actions import demo
from fleet.people.models import User
from fleet.register.models import Horn

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
WHERE = Path(__file__).resolve().parents[2] / "pictures"
WALK = "?valves=4&slide_sets=2&test_note=0"
COLOURS = 64


def test_pictures(open_as: Any) -> None:
    school = demo.load(at=timezone.now())
    horn = Horn.objects.at(school).earliest("number")
    page = open_as(User.objects.get(email=demo.SIGN_INS[0][1]), width=390, height=720)
    for name, address in {
        "walk": reverse("identify:walk", args=[school.slug]) + WALK,
        "horn": reverse("desk:horn", args=[school.slug, horn.pk]),
        "today": reverse("desk:today", args=[school.slug]),
    }.items():
        assert page.goto(address).status == 200, address
        seen = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
        seen.quantize(COLOURS).save(WHERE / f"{name}.png", optimize=True)
