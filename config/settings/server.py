"""A real server: PostgreSQL, Redis, HTTPS. Refuses to start on a missing or default secret."""

from __future__ import annotations

from django.core.exceptions import ImproperlyConfigured

from config.settings.base import *  # noqa: F403
from config.settings.base import CACHES, DATABASES, HELMROOM_BROKER, env

SECRET_KEY = env.str("HELMROOM_SECRET", default="")
if len(SECRET_KEY) < 50 or len(set(SECRET_KEY)) < 10 or SECRET_KEY.startswith("django-insecure"):
    raise ImproperlyConfigured("Set HELMROOM_SECRET to at least 50 random characters of your own.")

ALLOWED_HOSTS = env.list("HELMROOM_HOSTS", default=[])
if not ALLOWED_HOSTS or "*" in ALLOWED_HOSTS:
    raise ImproperlyConfigured("Set HELMROOM_HOSTS to the names this server answers to, separated by commas.")
CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in ALLOWED_HOSTS]

SECURE_SSL_REDIRECT = True
SECURE_REDIRECT_EXEMPT = [r"^(health|ready|metrics)/$"]  # asked from beside the server, without HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_HSTS_SECONDS = 31_536_000
SECURE_HSTS_INCLUDE_SUBDOMAINS = env.bool("HELMROOM_HSTS_SUBDOMAINS", default=True)
SECURE_HSTS_PRELOAD = env.bool("HELMROOM_HSTS_PRELOAD", default=True)
SESSION_COOKIE_SECURE = True
CSRF_COOKIE_SECURE = True
# No other name of the same site, and no page without HTTPS, can set these (RFC 6265bis, "Cookie Name Prefixes").
SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-sessionid", "__Host-csrftoken"
HELMROOM_ADDRESS = env.str("HELMROOM_ADDRESS", default=f"https://{ALLOWED_HOSTS[0].lstrip('.')}")
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3" and not env.bool("HELMROOM_SQLITE", default=False):
    raise ImproperlyConfigured(
        "A server keeps its records in PostgreSQL: set DATABASE_URL. For one club on one machine SQLite will do; "
        "say so with HELMROOM_SQLITE=1."
    )

STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.postgresql":
    # A database that is away is said within three seconds (tests/config/test_database_away.py): nobody waits longer for
    # a connection, and one whose other end has vanished is given up (libpq, "Parameter Key Words").
    _options = DATABASES["default"].setdefault("OPTIONS", {})
    # One that hangs is told from one that has long to do (config/process/postgresql/silence.py).
    DATABASES["default"]["ENGINE"] = "config.process.postgresql"
    _options |= {"connect_timeout": 2, "tcp_user_timeout": 5000, "keepalives_idle": 10, "keepalives_interval": 5}
    if env.bool("HELMROOM_POOL", default=True):
        DATABASES["default"]["CONN_MAX_AGE"] = 0
        # A pool that gave up begins again with the next request; by its default it would pause for minutes.
        _options["pool"] = {"min_size": 1, "max_size": 8, "timeout": 2, "reconnect_timeout": 4}
if HELMROOM_BROKER.startswith("redis"):
    CACHES["default"] = {"BACKEND": "config.process.cache.CacheOrHere", "LOCATION": HELMROOM_BROKER}
HELMROOM_MODE = "server"
