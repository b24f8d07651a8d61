"""A coach's laptop: one command, SQLite, everything in the data folder."""

from __future__ import annotations

import secrets

from config.process.private_files import keep_private
from config.settings.base import *  # noqa: F403
from config.settings.base import DATA_DIR, env

keep_private(DATA_DIR)
_secret_file = DATA_DIR / "secret.key"
if not _secret_file.exists():
    _secret_file.touch(mode=0o600)
    _secret_file.write_text(secrets.token_urlsafe(50))
SECRET_KEY = _secret_file.read_text()

DEBUG = env.bool("HELMROOM_DEBUG", default=False)
# On a club's own network tablets reach the laptop by whatever name or number it has there.
ALLOWED_HOSTS = env.list("HELMROOM_HOSTS", default=["*"])
if env.bool("HELMROOM_HTTPS", default=False):
    # Behind a proxy of the club's own that speaks HTTPS with the tablets and says so in X-Forwarded-Proto.
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = True
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-sessionid", "__Host-csrftoken"
# Mails lead here and nowhere else: by the name that a request gives itself, somebody else could have them lead elsewhere.
HELMROOM_ADDRESS = env.str("HELMROOM_ADDRESS", default=f"http://127.0.0.1:{env.str('HELMROOM_PORT', default='8000')}")
# Until they are collected and compressed at the start (config/process/static_files.py).
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = DEBUG
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedStaticFilesStorage"},
}
HELMROOM_MODE = "local"
