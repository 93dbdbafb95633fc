"""Opens an empty site for its first school."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.text import slugify

from fleet.ground.refusal import Refused
from fleet.people.actions.accounts import begin_school
from fleet.people.actions.staff import appoint
from fleet.people.models import Post, School, User


def _hold(clean: Callable[[], None], options: dict[str, str]) -> None:
    """Raises CommandError that says which option is wrong and why."""
    try:
        clean()
    except ValidationError as wrong:
        said = [f"{options.get(field, field)}: {' '.join(messages)}" for field, messages in wrong.message_dict.items()]
        raise CommandError("\n".join(said)) from wrong


def _appoint(school: School, options: dict[str, str]) -> None:
    """A school that began with a head of its own gets a service head: only whoever runs the site can say so."""
    given = {"name": options["head"], "email": options["email"]}
    service = Post.Role.SERVICE
    try:
        appoint(school=school, **given, role=service, by_role=service, by=None, at=timezone.now())
    except Refused as no:
        raise CommandError(no.sentence) from no


class Command(BaseCommand):
    help = "Record a school and its department head, who then signs in with a code sent by e-mail."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--school", required=True, help="the school's name")
        parser.add_argument("--slug", default="", help="its part of the address; default: made from the name")
        parser.add_argument("--head", required=True, help="the department head's name")
        parser.add_argument("--email", required=True, help="the department head's e-mail address")
        parser.add_argument(
            "--service", action="store_true", help="that person is a service head, who looks after several schools"
        )

        parser.add_argument("--another", action="store_true", help="there is a school of this name: this is another")

    def handle(self, *args: Any, **options: Any) -> None:
        slug = options["slug"] or slugify(options["school"])[:40] or "school"
        here = School.objects.filter(slug=slug).first()
        if here and not options["service"]:
            raise CommandError(
                f"A school stands at /s/{slug}/ already. Add people in its settings; for another school, give --slug."
            )
        head = User(email=options["email"], name=options["head"])
        if not here:
            _hold(School(name=options["school"], slug=slug).full_clean, {"name": "--school", "slug": "--slug"})
        _hold(
            lambda: head.full_clean(exclude=["password"], validate_unique=False, validate_constraints=False),
            {"name": "--head", "email": "--email"},
        )
        role = Post.Role.SERVICE if options["service"] else Post.Role.HEAD
        if here:
            _appoint(here, options)
            self.stdout.write(f"{options['head']} is a service head of {here} from now on.")
            return
        try:
            opened = begin_school(
                name=options["school"],
                slug=slug,
                head_name=options["head"],
                head_email=options["email"],
                role=role,
                another=options["another"],
                at=timezone.now(),
            )
        except Refused as no:
            raise CommandError(no.sentence) from no
        self.stdout.write(f"{opened} is open at /s/{slug}/. {options['email']} can ask for a sign-in code now.")
