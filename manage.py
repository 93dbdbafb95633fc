#!/usr/bin/env python3
import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.settings")
    try:
        from django.core.exceptions import ImproperlyConfigured
        from django.core.management import execute_from_command_line
    except ImportError:
        sys.exit("Django is not installed here. Run this with the virtual environment: see README.md.")
    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as wrong:
        sys.stderr.write(f"{wrong}\n")
        # By this code (EX_TEMPFAIL of sysexits.h) a mail server keeps what it hands over and tries again.
        sys.exit(75 if sys.argv[1:2] == ["bounced"] else 2)


if __name__ == "__main__":
    main()
