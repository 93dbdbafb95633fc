"""The site's settings with the slow and the shared parts made fast and private for tests."""

import atexit
import os
import shutil
import tempfile

# What a developer's own site says is nothing to the tests.
os.environ["HORN_SETTINGS"] = os.devnull
if "HORN_DATA" not in os.environ:
    # Workers inherit the folder from the process that made it, which alone takes it away.
    os.environ["HORN_DATA"] = tempfile.mkdtemp(prefix="horn-tests-")
    atexit.register(shutil.rmtree, os.environ["HORN_DATA"], ignore_errors=True)

from fleet.settings import *  # noqa: F403
from fleet.settings import DATA_DIR, DATABASES, STORAGES

ALLOWED_HOSTS = ["testserver", "127.0.0.1", "localhost"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
STORAGES = {
    **STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
WHITENOISE_AUTOREFRESH = True
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A file, as in use: several threads of a live server share it the way gunicorn's workers would.
    DATABASES["default"]["TEST"] = {"NAME": str(DATA_DIR / "test.sqlite3")}
