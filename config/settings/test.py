"""The suite: quick hashes, its own data folder, SQLite unless DATABASE_URL says otherwise."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

os.environ.setdefault("HELMROOM_DATA", tempfile.mkdtemp(prefix="helmroom-test-"))
# Each process of pytest-xdist, and what it starts, has a folder of its own: a test may look at all that is in it.
if (worker := os.environ.get("PYTEST_XDIST_WORKER", "")) != os.environ.get("HELMROOM_TEST_WORKER", ""):
    os.environ["HELMROOM_TEST_WORKER"] = worker
    os.environ["HELMROOM_DATA"] = str(Path(os.environ["HELMROOM_DATA"]) / worker)
# Small matrices gain nothing by it, and threads that wait for each other in turns take twice the processor.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from config.settings.base import *  # noqa: F403
from config.settings.base import DATA_DIR, DATABASES, env

#: How many times longer than usual to wait (tests/patience.py).
PATIENCE = env.float("HELMROOM_PATIENCE", default=1.0)
SECRET_KEY = "test " * 12
ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = False
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # In a file, since live servers and threads share it with the locking that a club's laptop has.
    DATABASES["default"]["TEST"] = {"NAME": str(DATA_DIR / "test.sqlite3")}
    DATABASES["default"]["OPTIONS"]["init_command"] = (
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=OFF; PRAGMA secure_delete=ON;"
    )
    DATABASES["default"]["OPTIONS"]["timeout"] = 120 * PATIENCE
HELMROOM_ADDRESS = "http://testserver"
HELMROOM_MODE = "test"
# Planning takes the time it takes on a slow or busy machine; what a deadline does has tests of its own.
HELMROOM_JOB_DEADLINE_S = env.float("HELMROOM_JOB_DEADLINE_S", default=600.0 * PATIENCE)

(DATA_DIR / "static").mkdir(parents=True, exist_ok=True)
