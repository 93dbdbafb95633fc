"""A passkey in a real browser: added, used to sign in, and as the second step behind a password."""

from __future__ import annotations

from typing import Any

import pytest
from allauth.mfa.models import Authenticator

from fleet.ground.access import Role
from fleet.record.models import Act, Deed
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PASSWORD = "valve oil and felt"


def with_a_finger(page: Any) -> Any:
    """The page on a device that keeps passkeys and whose owner always holds a finger to it."""
    device = page.context.new_cdp_session(page)
    device.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2",
        "transport": "internal",
        "hasResidentKey": True,
        "hasUserVerification": True,
        "isUserVerified": True,
        "automaticPresenceSimulation": True,
    }
    device.send("WebAuthn.addVirtualAuthenticator", {"options": options})
    return page


def added(page: Any) -> None:
    page.goto("/account/passkeys/new/")
    with page.expect_navigation():
        page.click("#passkey-add")


def signed_out(page: Any) -> None:
    page.goto("/account/sign-out/")
    with page.expect_navigation():
        page.click("main form button")


def test_a_passkey_is_added_and_signs_in_alone(open_as):
    person = make.staff(Role.HEAD, make.school())
    page = with_a_finger(open_as(person))

    added(page)
    led_to = page.url
    signed_out(page)
    with page.expect_navigation():
        page.click("#passkey-sign-in")
    page.goto("/account/second-factor/")

    assert led_to.endswith("/account/second-factor/recovery/")
    assert Authenticator.objects.filter(user=person, type=Authenticator.Type.WEBAUTHN).count() == 1
    assert "my passkey" in page.inner_text("main")
    assert page.locator(f'[data-person="{person.pk}"]').count() == 1
    told = [(act.deed, act.by, act.lines[1:]) for act in Act.objects.order_by("pk")]
    assert (Deed.SECOND_STEP_ON, person, [["how", "passkey, my passkey"]]) in told
    assert told[-1] == (Deed.SIGNED_IN, person, [["how", "passkey"]])


def test_a_passkey_is_the_second_step_behind_a_password(open_as):
    person = make.staff(Role.HEAD, make.school(), password=PASSWORD)
    page = with_a_finger(open_as(person, width=390))
    added(page)
    signed_out(page)

    page.fill("[name=login]", person.email)
    page.fill("[name=password]", PASSWORD)
    with page.expect_navigation():
        page.click("main button:text-is('Sign in')")
    asked = page.url
    with page.expect_navigation():
        page.click("#passkey-use")

    assert asked.endswith("/account/second-factor/ask/")
    assert page.locator(f'[data-person="{person.pk}"]').count() == 1


def test_a_browser_that_gives_no_passkey_is_answered_by_a_sentence(open_as):
    page = open_as(None)
    page.goto("/account/sign-in/")
    page.evaluate("() => { navigator.credentials.get = () => Promise.reject(new Error('none')); }")

    page.click("#passkey-sign-in")
    page.wait_for_selector("#no-passkey:not([hidden])")

    assert "No passkey was given." in page.inner_text("#no-passkey")
