"""Settings that hold everywhere. ``local`` is a laptop, ``server`` the real thing, ``test`` the suite."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import environ
from csp.constants import NONE, SELF
from django.urls import reverse_lazy

BASE_DIR = Path(__file__).resolve().parent.parent.parent
env = environ.Env()

# Where everything that changes lives: database, queue, secret, lock. Never inside the code on a server.
DATA_DIR = Path(env.str("HELMROOM_DATA", default=str(BASE_DIR / "var")))

DEBUG = False
ALLOWED_HOSTS: list[str] = []

INSTALLED_APPS = [
    "config.apps.SupportConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "classroom",
    "missions",
    "planning",
    "config",
]

MIDDLEWARE = [
    "classroom.site.headers.EveryHeader",
    "config.process.health.CountRequests",
    "config.process.health.AskedByMachines",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    # A tablet on a club's Wi-Fi waits for bytes. (Its random padding keeps the length from telling secrets.)
    "django.middleware.gzip.GZipMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "classroom.site.locked.TryAgainWhenLocked",
    "classroom.site.middleware.ClubMiddleware",
    "planning.preparing.middleware.WaitForPlanner",
    "classroom.site.together.KeepTogether",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "classroom.site.templates.PlainNumberTemplates",
        "NAME": "django",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "classroom.site.context.who",
                "config.demo.notice.demonstration",
            ],
            "builtins": [
                "django.templatetags.i18n",
                "classroom.site.tags",
                "missions.readiness.tags",
                "missions.runs.tags",
                "planning.preparing.tags",
            ],
        },
    },
]

DATABASES = {"default": env.db("DATABASE_URL", default=f"sqlite:///{DATA_DIR / 'helmroom.sqlite3'}")}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # Immediate: a deferred transaction that later writes fails under other writers instead of waiting its turn.
    # synchronous FULL: what a tablet was told is kept, is kept through a power cut.
    # secure_delete: what is deleted is overwritten in the file.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 10,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA cache_size=-20000; "
        "PRAGMA secure_delete=ON;",
    }
else:
    DATABASES["default"].setdefault("CONN_MAX_AGE", 60)
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True

AUTH_USER_MODEL = "classroom.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = reverse_lazy("account_login")
LOGIN_REDIRECT_URL = "/"
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_FORMS = {
    "login": "classroom.people.forms.SignInForm",
    "reset_password": "classroom.people.forms.ForgottenPasswordForm",
}
ACCOUNT_ADAPTER = "classroom.people.adapter.ClosedSignUpAdapter"
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_LOGOUT_REDIRECT_URL = "/"
ACCOUNT_SESSION_REMEMBER = True
# A source is kept out for five minutes; an account, which others may guess at, is slowed for one, and not in a browser that
# it signed in with before (classroom/people/adapter.py).
ACCOUNT_RATE_LIMITS = {"login_failed": "10/5m/ip,5/1m/key"}
ALLAUTH_RATE_LIMIT_IPV6_PREFIX = 56
MFA_SUPPORTED_TYPES = ["totp", "recovery_codes"]
MFA_TOTP_ISSUER = "helmroom"

SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 60 * 60 * 24 * 14
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "classroom.site.error_pages.csrf_failure"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
# No page of ours asks for any of it (W3C Permissions Policy); a script that got in should not either.
PERMISSIONS_POLICY = "accelerometer=(), camera=(), display-capture=(), geolocation=(), gyroscope=(), magnetometer=(), \
microphone=(), midi=(), payment=(), serial=(), usb=(), xr-spatial-tracking=()"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}

LANGUAGE_CODE = "en-gb"
#: Each by its own name: who looks for it may read no other. Which page speaks which: DEVELOPERS.md, "Languages".
LANGUAGES = [("en-gb", "English"), ("es", "Español"), ("de", "Deutsch")]
LOCALE_PATHS = [BASE_DIR / "locale"]
FORMAT_MODULE_PATH = "config.settings.formats"
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = DATA_DIR / "static"
# Pages of other origins have no business with them.
WHITENOISE_ALLOW_ALL_ORIGINS = False
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
CACHES: dict[str, dict[str, Any]] = {
    "default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"},
    # A process's own notes, also on a server: what is in it costs no way to Redis and is no harm to forget.
    "here": {
        "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
        "LOCATION": "here",
        "OPTIONS": {"MAX_ENTRIES": 10_000},
    },
    # Parts of pages that hang on nothing but the values in their key: a run's line, a picture of a series, a map.
    "parts": {
        "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
        "LOCATION": "parts",
        "OPTIONS": {"MAX_ENTRIES": 5_000},
    },
}
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
# The mission editor sends every corner as a box of its own; missions/ladder/mission_file.py holds them under this.
DATA_UPLOAD_MAX_NUMBER_FIELDS = 8000
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
# By a mail server where EMAIL_URL names one, else into a folder of files. A server that hangs keeps nobody waiting for long.
EMAIL_BACKEND = "classroom.families.mail_folder.FileForEach"
EMAIL_FILE_PATH = str(DATA_DIR / "mail")
_mail_server = env.str("EMAIL_URL", default="")
if _mail_server:
    vars().update(env.email_url("EMAIL_URL"))
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = env.str("HELMROOM_MAIL_FROM", default="helmroom@localhost")

# Background work: the row is the truth, the broker only carries ids.
HELMROOM_BROKER = env.str("HELMROOM_BROKER", default="embedded")
HELMROOM_JOB_LEASE_S = env.float("HELMROOM_JOB_LEASE_S", default=15.0)
HELMROOM_JOB_SWEEP_S = env.float("HELMROOM_JOB_SWEEP_S", default=2.0)
HELMROOM_JOB_DEADLINE_S = env.float("HELMROOM_JOB_DEADLINE_S", default=120.0)

# Tablets and families.
HELMROOM_TABLET_HOURS = 8
# How often each tablet asks whether its coach has told it anything.
HELMROOM_NEWS_EVERY_S = env.float("HELMROOM_NEWS_EVERY_S", default=2.0)
# How many of our own proxies stand before the site: sign-ins are slowed by the address that the nearest of them saw.
HELMROOM_PROXIES = env.int("HELMROOM_PROXIES", default=0)
# Who may read /metrics; nobody while it is empty.
HELMROOM_METRICS_TOKEN = env.str("HELMROOM_METRICS_TOKEN", default="")
HELMROOM_LINK_DAYS = 120
HELMROOM_FAMILY_MINUTES = 30

# One way out for every line: in UTC, without tokens and without forged line breaks.
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {
        "redact": {"()": "config.logs.RedactTokens"},
        "strangers": {"()": "config.logs.NoTraceOfStrangers"},
        "waiting": {"()": "config.logs.WaitingIsNoError"},
        "name": {"()": "config.logs.NameRequest"},
    },
    "formatters": {
        "utc": {
            "()": "config.logs.UtcFormatter",
            "format": "%(asctime)s %(levelname)s %(name)s [%(request_id)s]: %(message)s",
        },
        "json": {"()": "config.logs.JsonFormatter"},
    },
    "handlers": {
        "stderr": {
            "class": "logging.StreamHandler",
            "filters": ["redact", "strangers", "waiting", "name"],
            "formatter": env.str("HELMROOM_LOGS", default="utc"),
        }
    },
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": [], "level": "INFO"},
        "django.server": {"handlers": ["stderr"], "level": "INFO", "propagate": False},
        "helmroom": {"level": "INFO"},
        "waitress.queue": {"level": "ERROR"},  # two requests at once are no news to a coach
    },
}
