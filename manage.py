#!/usr/bin/env python3
import os
import sys
from pathlib import Path

# What cron, a mail server and whoever runs the site ask of data that are there.
ASKS_OF_DATA = {
    *("backup", "begin", "bounced", "export_school", "forget", "import_school", "reconcile", "remind"),
    *("second_step", "send_mail", "sign_in", "sign_out", "verify_record"),
}

EMPTY = "The database is empty: a new site begins with manage.py prepare."


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.settings")
    try:
        from django.core.exceptions import ImproperlyConfigured
        from django.core.management import execute_from_command_line
        from django.db import DatabaseError
    except ImportError:
        sys.exit("Django is not installed here. Run this with the virtual environment: see README.md.")
    asks = {*sys.argv[1:2]} & ASKS_OF_DATA and not {"-h", "--help"} & {*sys.argv}
    try:
        if asks and (lacking := what_the_data_lack()):
            raise ImproperlyConfigured(lacking)
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as wrong:
        leave(str(wrong))
    except (DatabaseError, OSError) as wrong:
        from fleet.trouble import BROKE, trouble_of

        trouble = trouble_of(wrong)
        if not asks or trouble is BROKE:
            raise
        leave(f"{trouble.title}: {' '.join(str(wrong).split())}")


def leave(sentence: str) -> None:
    sys.stderr.write(f"{sentence}\n")
    # By this code (EX_TEMPFAIL of sysexits.h) a mail server keeps what it hands over and tries again.
    sys.exit(75 if sys.argv[1:2] == ["bounced"] else 2)


def what_the_data_lack() -> str:
    """A sentence, or nothing where they can be asked."""
    import django
    from django.conf import settings
    from django.db import connection

    django.setup()
    kept = settings.DATABASES["default"]
    # Asked for, SQLite would make an empty one there.
    if "sqlite3" in str(kept["ENGINE"]) and not Path(str(kept["NAME"])).exists():
        return (
            f"No database is at {kept['NAME']}. HORN_DATA names the folder of the data; a new site begins with "
            "manage.py prepare."
        )
    return "" if connection.introspection.table_names() else EMPTY


if __name__ == "__main__":
    main()
