import pytest
from django.core.management import call_command
from django.db import connection

from fleet.ground.access import Role
from tests import make


@pytest.mark.django_db
def test_models_and_migrations_agree():
    call_command("makemigrations", check=True, dry_run=True, verbosity=1)


@pytest.mark.django_db
@pytest.mark.skipif(connection.vendor != "postgresql", reason="no other engine compiles what it is asked")
def test_postgresql_is_told_not_to_compile_what_it_is_asked():
    with connection.cursor() as cursor:
        cursor.execute("SHOW jit")
        assert cursor.fetchone() == ("off",)


@pytest.mark.django_db
def test_staff_of_one_school_land_on_its_today_page(as_):
    school = make.school()
    client = as_(make.staff(Role.TEACHER, school))

    answer = client.get("/", follow=True)

    assert answer.redirect_chain == [(f"/s/{school.slug}/", 302)]
    assert answer.status_code == 200


@pytest.mark.django_db
def test_a_stranger_to_a_school_gets_404(as_):
    school, other = make.school(), make.school()

    assert as_(make.staff(Role.HEAD, other)).get(f"/s/{school.slug}/").status_code == 404


@pytest.mark.django_db
def test_somebody_not_signed_in_is_sent_to_the_sign_in_page(as_):
    school = make.school()

    answer = as_(None).get(f"/s/{school.slug}/")

    assert (answer.status_code, answer.url) == (302, f"/account/sign-in/?next=/s/{school.slug}/")
