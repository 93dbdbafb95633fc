import pytest

from tests.lent import at_noon, elsewhere, lending, out, today
from tests.mail.postbox import open_postbox
from tests.ports import free_port

__all__ = ["at_noon", "elsewhere", "lending", "out", "today"]


@pytest.fixture
def mail(settings):
    """The site's mail goes to a port of this machine; nobody listens there yet."""
    settings.EMAIL_BACKEND = "fleet.mail.actions.queueing.Queue"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_USE_TLS = "127.0.0.1", free_port(), False
    settings.EMAIL_TIMEOUT = 10
    settings.DEFAULT_FROM_EMAIL = "Horn Cupboard <horns@school.example>"
    settings.SITE_ORIGIN = "https://horns.example.org"
    return settings.EMAIL_PORT


@pytest.fixture
def postbox(mail):
    with open_postbox(mail) as box:
        yield box
