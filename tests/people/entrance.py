"""Words the tests of the entrance share: who comes in, how, and what the pages and letters say."""

from __future__ import annotations

import re
from typing import Any

from django.core import mail

from fleet.ground.access import Role
from fleet.people.models import User
from tests import make

PASSWORD = "valve oil and felt"
SIGN_IN = "/account/sign-in/"
CODE = "/account/code/"
CONFIRM = "/account/code/confirm/"
SECOND_STEP = "/account/second-factor/ask/"
ACCOUNT = "/account/second-factor/"


def teacher(**fields: object) -> User:
    return make.staff(Role.TEACHER, make.school(), **{"password": PASSWORD, **fields})


def by_password(client: Any, email: str, password: str = PASSWORD, **extra: str) -> Any:
    return client.post(SIGN_IN, {"login": email, "password": password, **extra})


def signed_in(client: Any) -> bool:
    return "_auth_user_id" in client.session


def part(pattern: str, text: object) -> str:
    found = re.search(pattern, str(text), flags=re.M)
    assert found, text
    return found[1]


def code_in_the_letter() -> str:
    return part(r"^\s+(\d{4}-\d{4})$", mail.outbox[-1].body)


def words(answer: Any) -> str:
    """What a page says, without the tokens that differ from one request to the next."""
    page = answer.content.decode()
    page = re.sub(r'name="csrfmiddlewaretoken" value="[^"]+"', "", page)
    return re.sub(r"[\w.]+@example\.org", "ADDRESS", page)
