"""Settings of the site. What differs from place to place README lists, for the environment or one file."""

from pathlib import Path

from fleet import environment as env
from fleet.ground.languages.known import ENGLISH, KNOWN

BASE_DIR = Path(__file__).resolve().parent.parent
SETTINGS_FILE = env.from_file(BASE_DIR / "horn.toml")
DATA_DIR = env.folder("HORN_DATA", BASE_DIR / "data")
env.private(DATA_DIR)
SITE_ORIGIN, SITE_HOST, SITE_PATH = env.address("HORN_SITE")
SITE_IS_HTTPS = SITE_ORIGIN.startswith("https:")
# Below a path the proxy takes it off before it asks, and every address that the site makes begins with it.
FORCE_SCRIPT_NAME = SITE_PATH or None
OTHER_HOSTS = env.hosts("HORN_HOSTS")
SECURITY_CONTACT = env.contact("HORN_SECURITY_CONTACT")

DEBUG = False
SECRET_KEY = env.secret("HORN_SECRET", DATA_DIR / "secret")
ALLOWED_HOSTS = [SITE_HOST, *OTHER_HOSTS] if SITE_HOST else ["127.0.0.1", "localhost", "[::1]"]
CSRF_TRUSTED_ORIGINS = (
    [SITE_ORIGIN, *(SITE_ORIGIN.replace(SITE_HOST, one) for one in OTHER_HOSTS)] if SITE_ORIGIN else []
)

INSTALLED_APPS = [
    "fleet",
    "fleet.record",
    "fleet.mail",
    "fleet.people",
    "fleet.register",
    "fleet.workshop",
    "fleet.counting",
    "fleet.lending",
    "fleet.signing",
    "fleet.letters",
    "fleet.matching",
    "fleet.reports",
    "fleet.exchange",
    "fleet.desk",
    "fleet.along",
    "identify",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "django_filters",
    "django_htmx",
    "django_tables2",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.humanize",
    "django.contrib.messages",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
]

MIDDLEWARE = [
    "fleet.watch.numbering.numbered",
    "fleet.middleware.stated_policies",
    "fleet.watch.answered.answered",
    "fleet.middleware.Compressed",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "fleet.middleware.sessions_end",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "fleet.middleware.spoken",
    "fleet.middleware.Doors",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]

# Each slice that knows something of horns tells its share, as middleware is named here and not where it is called.
TELL_OF_HORNS = [
    "fleet.register.queries.told",
    "fleet.workshop.queries.told",
    "fleet.lending.queries.told",
    "fleet.signing.queries.told",
    "fleet.counting.queries.told",
]
# What is asked of a slice above: a school's horns kept anew, jobs in turn with their horns, how a horn suits a pupil.
KEEP_SCHOOL = "fleet.register.actions.keeping.keep_school"
KEEP_WITH_HORNS = "fleet.workshop.actions.mending.keep_turns"
TELL_OF_FIT = "fleet.matching.queries.fit"

ROOT_URLCONF = "fleet.urls"
WSGI_APPLICATION = "fleet.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "OPTIONS": {
            "loaders": [
                (
                    "django.template.loaders.cached.Loader",
                    ["fleet.lighter.Loader", "django.template.loaders.app_directories.Loader"],
                )
            ],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "fleet.people.queries.seats.in_templates",
            ],
            "builtins": [
                "django.templatetags.i18n",
                "fleet.templatetags.fleet_tags",
                "fleet.templatetags.pieces",
            ],
        },
    },
]

DATABASES = {"default": env.database("DATABASE_URL", DATA_DIR / "horns.sqlite3")}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# The throttles of the sign-in pages must hold across workers, so their counters live in the database.
CACHES = {
    "default": {
        "BACKEND": "fleet.counters.Counters",
        "LOCATION": "throttle_counters",
        # When it is full, counters go in the order of their names, that of an account under attack among them.
        "OPTIONS": {"MAX_ENTRIES": 100_000},
    },
}

AUTH_USER_MODEL = "people.User"
AUTHENTICATION_BACKENDS = ["fleet.people.queries.signed_in.Accounts"]
# One validator, so that a password that will not do is answered by one sentence.
AUTH_PASSWORD_VALIDATORS = [{"NAME": "fleet.people.forms.passwords.HardToGuess"}]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "desk:home"
ACCOUNT_ADAPTER = "fleet.people.pages.signing_in.Doorkeeper"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_LOGIN_BY_CODE_ENABLED = True
ACCOUNT_LOGIN_BY_CODE_TIMEOUT = 15 * 60
ACCOUNT_LOGIN_BY_CODE_MAX_ATTEMPTS = 3
ACCOUNT_LOGIN_BY_CODE_FORMAT = {"numeric": True, "length": 8, "dashed": True}
ACCOUNT_PREVENT_ENUMERATION = True
# The letter to an unknown address is sent by our own forms: the library's wants a sign-up page.
ACCOUNT_EMAIL_UNKNOWN_ACCOUNTS = False
ACCOUNT_EMAIL_NOTIFICATIONS = True
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_FORMS = {
    "login": "fleet.people.forms.signing_in.SignIn",
    "request_login_code": "fleet.people.forms.signing_in.AskForCode",
    "confirm_login_code": "fleet.people.forms.signing_in.ConfirmCode",
    "reset_password": "fleet.people.forms.signing_in.AskForReset",
    "reset_password_from_key": "fleet.people.forms.signing_in.ResetPassword",
    "change_password": "fleet.people.forms.signing_in.ChangePassword",
    "set_password": "fleet.people.forms.signing_in.SetPassword",
    "reauthenticate": "fleet.people.forms.signing_in.PasswordAgain",
}
# Of wrong passwords the key is an account with the address they come from, then the account alone: guesses from many
# addresses. Who is known to a browser (people/queries/known_devices) is counted by that browser in place of both.
ACCOUNT_RATE_LIMITS = {
    "login_failed": "10/m/ip,5/5m/key",
    "login_failed_anywhere": "30/h/key",
    "proof_code": "3/m/user",
    # Each makes us ask the issuer; a whole school may come from one address when the first lesson begins.
    "by_issuer": "60/5m/ip",
}
# Who keeps accounts elsewhere with which staff may come in.
ISSUERS = env.issuers("HORN_ISSUERS")
ACCOUNT_DEFAULT_HTTP_PROTOCOL = "https" if SITE_IS_HTTPS else "http"
ACCOUNT_EMAIL_SUBJECT_PREFIX = "Horn Cupboard: "
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
# A passkey stands for password and second step together, so its device must know whose hand is on it.
MFA_WEBAUTHN_USER_VERIFICATION = "required"
MFA_TOTP_ISSUER = "Horn Cupboard"
MFA_TOTP_TOLERANCE = 1
MFA_ADAPTER = "fleet.people.pages.signing_in.SecondStep"
MFA_FORMS = {
    "authenticate": "fleet.people.forms.signing_in.SecondCode",
    "reauthenticate": "fleet.people.forms.signing_in.SecondCodeAgain",
    "activate_totp": "fleet.people.forms.signing_in.ActivateSecondStep",
    "add_webauthn": "fleet.people.forms.passkeys.AddPasskey",
    "login_webauthn": "fleet.people.forms.passkeys.SignInByPasskey",
    "authenticate_webauthn": "fleet.people.forms.passkeys.PasskeyAsSecondStep",
    "reauthenticate_webauthn": "fleet.people.forms.passkeys.PasskeyAgain",
}

IDLE_MINUTES = env.whole("HORN_IDLE_MINUTES", 30, 1, 24 * 60)
# Two ends: the server's after this idle time, the browser's when it is closed; school machines are shared.
SESSION_ENGINE = "fleet.people.queries.signed_in"
SESSION_COOKIE_AGE = IDLE_MINUTES * 60
SESSION_EXPIRE_AT_BROWSER_CLOSE = True
# However busy it is, a session is over after a school's longest day: one that was carried off is not good for ever.
SESSION_HOURS = env.whole("HORN_SESSION_HOURS", 12, 1, 168)
# An open session is not yet the person: what gives rights away or takes data along (`access.PROVEN`) wants a proof
# not older than this. Shorter, and people who type slowly are asked in the middle of it.
PROOF_MINUTES = env.whole("HORN_PROOF_MINUTES", 10, 1, 120)
# With it a browser takes a cookie from this very host only, over https only; without https it takes none of that name.
# Below a path it is sent to nobody else on that host, which the name of such a cookie cannot say (RFC 6265bis, 4.1.3).
COOKIE_PREFIX = ("__Secure-" if SITE_PATH else "__Host-") if SITE_IS_HTTPS else ""
SESSION_COOKIE_PATH = CSRF_COOKIE_PATH = f"{SITE_PATH}/"
SESSION_COOKIE_NAME = f"{COOKIE_PREFIX}horn_session"
CSRF_COOKIE_NAME = f"{COOKIE_PREFIX}horn_csrf"
# Scripts take the token from the form.
CSRF_COOKIE_HTTPONLY = True
MESSAGE_STORAGE = "fleet.messages.Messages"
CSRF_FAILURE_VIEW = "fleet.middleware.unproven_form"

BEHIND_PROXY = SITE_IS_HTTPS and env.yes("HORN_BEHIND_PROXY", default=True)
# Otherwise the throttles would take everybody behind the proxy for one person.
ALLAUTH_TRUSTED_PROXY_COUNT = int(BEHIND_PROXY)
if SITE_IS_HTTPS:
    SECURE_SSL_REDIRECT = True
    # Programs ask for these. Led on, one would go on sending a calendar's secret in the clear, and nobody would notice.
    SECURE_REDIRECT_EXEMPT = [f"^{SITE_PATH[1:]}/calendar/" if SITE_PATH else "^calendar/"]
    SECURE_HSTS_SECONDS = 365 * 24 * 3600
    # A school's other hosts are not ours to promise for.
    SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = env.yes("HORN_HSTS_PRELOAD")
    if not SECURE_HSTS_PRELOAD:
        SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = True
    if BEHIND_PROXY:
        SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

LANGUAGE_CODE = ENGLISH
LANGUAGES = [(one.code, one.name) for one in KNOWN.values()]
# What families read; what staff alone read, which fewer languages have.
LOCALE_PATHS = [BASE_DIR / "locale", BASE_DIR / "locale" / "staff"]
LANGUAGE_COOKIE_NAME = f"{COOKIE_PREFIX}language"
# How days are written, where we differ from the framework.
FORMAT_MODULE_PATH = "fleet.ground.languages.formats"
USE_TZ = True
TIME_ZONE = env.zone("HORN_TIME_ZONE", "UTC")

# Whole, since Django would settle it before the path is known.
STATIC_URL = f"{SITE_PATH}/static/"
STATIC_ROOT = DATA_DIR / "static"
MEDIA_ROOT = DATA_DIR / "pictures"
STORAGES = {
    "default": env.store("HORN_S3"),
    "staticfiles": {"BACKEND": "fleet.lighter.Gathered"},
}
WHITENOISE_MAX_AGE, WHITENOISE_ALLOW_ALL_ORIGINS = 3600, False

# The library's own would let everybody on the computer read pictures.
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
# A form carries at most a few photographs.
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
DATA_UPLOAD_MAX_NUMBER_FILES = 8
PHOTOGRAPH_MAX_BYTES = 12 * 1024 * 1024
PHOTOGRAPH_MAX_PIXELS = 40_000_000

MAIL_HOST = env.text("HORN_MAIL_HOST")
if MAIL_HOST:
    EMAIL_BACKEND = "fleet.mail.actions.queueing.Queue"
    EMAIL_HOST = MAIL_HOST
    EMAIL_PORT = env.whole("HORN_MAIL_PORT", 587, 1, 65535)
    EMAIL_HOST_USER = env.text("HORN_MAIL_USER")
    EMAIL_HOST_PASSWORD = env.text("HORN_MAIL_PASSWORD")
    # On this port the encryption begins before the first word, on others after it (RFC 8314, section 3.3).
    EMAIL_USE_SSL = EMAIL_PORT == 465
    EMAIL_USE_TLS = env.yes("HORN_MAIL_TLS", default=True) and not EMAIL_USE_SSL
    EMAIL_TIMEOUT = 20
else:
    # Without a mail server, letters (the sign-in codes among them) appear in the terminal.
    EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
DEFAULT_FROM_EMAIL = env.text("HORN_MAIL_FROM", "Horn Cupboard <horns@localhost>")

DJANGO_TABLES2_TEMPLATE = "_partials/table.html"
FORM_RENDERER = "fleet.ground.fields.PlainWidgets"
INSTALLED_APPS.append("django.forms")

# With the offset from UTC, so that the hour after the clocks go back is not there twice.
STAMP = "%Y-%m-%dT%H:%M:%S%z"
LOG_AS = env.one_of("HORN_LOG", ("plain", "json"), "json" if SITE_ORIGIN else "plain")
ERROR_HOOK = env.function("HORN_ERROR_HOOK")
FIGURES_KEY = env.key("HORN_FIGURES_KEY")
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "plain": {
            "class": "fleet.watch.lines.InWords",
            "format": "{asctime} {levelname} {name}: {message}",
            "style": "{",
            "datefmt": STAMP,
        },
        "json": {"class": "fleet.watch.lines.InJson"},
    },
    "handlers": {
        "terminal": {"class": "logging.StreamHandler", "formatter": LOG_AS},
        **({"hook": {"class": "fleet.watch.lines.Hook", "call": ERROR_HOOK}} if ERROR_HOOK else {}),
    },
    "root": {"handlers": ["terminal", *(["hook"] if ERROR_HOOK else [])], "level": "WARNING"},
    "loggers": {
        # A line for each page that was asked for: in a terminal it would drown the letters.
        "fleet": {"level": "INFO" if LOG_AS == "json" else "WARNING"},
        # One request waiting a moment for a thread is everyday life on a small computer.
        "waitress.queue": {"level": "ERROR"},
    },
}
