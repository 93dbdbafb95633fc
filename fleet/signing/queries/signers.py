"""Whether a guardian may sign on the family's page: not with an address that is new, nor for what they prepared."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone
from django.utils.translation import gettext

from fleet.ground.wording import day
from fleet.people.models import Guardian, User


def why_not(guardian: Guardian, *, asked_by: User, at: datetime) -> str:
    """Why what `asked_by` asks for is not signed on this guardian's page now, in a sentence; "" where nothing is in
    the way. On paper they may sign all the same."""
    if guardian.user_id == asked_by.pk:
        said = gettext("Nobody signs on their own page what they asked for: somebody else puts it before %(guardian)s.")
        return said % {"guardian": guardian}
    if guardian.user_id is not None and guardian.user_id == guardian.address_by_id:
        said = gettext("%(guardian)s entered this e-mail address themselves, so it does not sign. Sign the sheet.")
        return said % {"guardian": guardian}
    ready = guardian.signs_from(at)
    if ready is None:
        return ""
    said = gettext("The e-mail address of %(guardian)s is new: it signs from %(day)s. Sign the sheet.")
    return said % {"guardian": guardian, "day": day(timezone.localdate(ready))}
