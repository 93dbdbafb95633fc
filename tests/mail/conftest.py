import pytest
from django.core.mail import send_mail

from fleet.mail.models import Outgoing
from tests.letters.conftest import mail, postbox

__all__ = ["mail", "postbox"]


@pytest.fixture
def queued(mail):
    """A letter in the queue, and the moment it came there."""
    send_mail("A code", "1234", None, ["ada@example.org"])
    return Outgoing.objects.get().queued_at
