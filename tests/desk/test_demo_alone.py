import pytest
from django.core.management import CommandError, call_command

from fleet.people.models import School
from tests import make

pytestmark = pytest.mark.django_db


def test_the_demo_never_joins_a_schools_own_data():
    make.school()

    with pytest.raises(CommandError, match="empty database only"):
        call_command("demo")
    call_command("demo", only_when_empty=True)
    assert School.objects.count() == 1
