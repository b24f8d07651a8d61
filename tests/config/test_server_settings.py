"""A server refuses to start unsafely; its settings pass Django's own deployment check without a warning."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.patience import LONGEST_S

ROOT = Path(__file__).resolve().parent.parent.parent
SECRET = "Qz7-mLr2_Xw9KdTv4bNyHs6PgCj1FuEa8RoBi3VtMk5ZxWlYn0"
GOOD = {
    "DJANGO_SETTINGS_MODULE": "config.settings.server",
    "HELMROOM_SECRET": SECRET,
    "HELMROOM_HOSTS": "club.example",
    "DATABASE_URL": "postgres://helmroom@127.0.0.1/helmroom",
    "HELMROOM_BROKER": "redis://127.0.0.1:6379/0",
    "HELMROOM_PROXIES": "1",
    "EMAIL_URL": "smtp://mail.example:25",
    "HELMROOM_MAIL_FROM": "club@mail.example",
}


def run(*arguments: str, tmp_path: Path, **environment: str | None) -> subprocess.CompletedProcess[str]:
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("HELMROOM_", "DJANGO_", "DATABASE_", "EMAIL_"))}
    env = kept | GOOD | {"HELMROOM_DATA": str(tmp_path)} | environment
    env = {key: value for key, value in env.items() if value is not None}
    return subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, env=env, capture_output=True, text=True, timeout=LONGEST_S, check=False
    )


@pytest.mark.parametrize(
    ("broken", "said"),
    [
        ({"HELMROOM_SECRET": None}, "HELMROOM_SECRET"),
        ({"HELMROOM_SECRET": ""}, "HELMROOM_SECRET"),
        ({"HELMROOM_SECRET": "short"}, "HELMROOM_SECRET"),
        ({"HELMROOM_SECRET": "a" * 60}, "HELMROOM_SECRET"),
        ({"HELMROOM_SECRET": "django-insecure-" + SECRET}, "HELMROOM_SECRET"),
        ({"HELMROOM_HOSTS": None}, "HELMROOM_HOSTS"),
        ({"HELMROOM_HOSTS": "*"}, "HELMROOM_HOSTS"),
        ({"DATABASE_URL": None}, "DATABASE_URL"),
    ],
)
def test_a_server_without_its_own_secret_or_names_does_not_start(tmp_path, broken, said):
    done = run("manage.py", "check", tmp_path=tmp_path, **broken)
    assert done.returncode != 0 and "ImproperlyConfigured" in done.stderr and said in done.stderr


def test_the_deployment_check_has_nothing_to_say(tmp_path):
    tmp_path.chmod(0o700)
    done = run("manage.py", "check", "--deploy", "--fail-level", "WARNING", tmp_path=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout


@pytest.mark.parametrize(
    ("broken", "number"),
    [
        ({"DATABASE_URL": None, "HELMROOM_SQLITE": "1"}, "W001"),
        ({"HELMROOM_BROKER": None}, "W002"),
        ({"HELMROOM_PROXIES": None}, "W003"),
        ({"EMAIL_URL": None}, "W004"),
        ({"mode": "755"}, "W005"),
        ({"HELMROOM_MAIL_FROM": None}, "W006"),
    ],
)
def test_what_a_server_lacks_is_named_one_by_one(tmp_path, broken, number):
    tmp_path.chmod(int(broken.pop("mode", "700"), 8))
    done = run("manage.py", "check", "--deploy", "--fail-level", "WARNING", tmp_path=tmp_path, **broken)
    assert done.returncode != 0
    assert {line for line in done.stderr.split() if "helmroom.W" in line} == {f"(helmroom.{number})"}, done.stderr


def test_what_a_server_promises_browsers(tmp_path):
    """OWASP ASVS 5.0.0, 3.3 (cookies) and 3.4 (headers)."""
    names = [
        "DEBUG",
        "SECURE_SSL_REDIRECT",
        "SECURE_HSTS_SECONDS",
        "SECURE_CONTENT_TYPE_NOSNIFF",
        "SESSION_COOKIE_SECURE",
        "SESSION_COOKIE_HTTPONLY",
        "SESSION_COOKIE_SAMESITE",
        "SESSION_COOKIE_NAME",
        "CSRF_COOKIE_NAME",
        "CSRF_COOKIE_SECURE",
        "CSRF_COOKIE_SAMESITE",
        "X_FRAME_OPTIONS",
    ]
    code = (
        "import json, django; django.setup(); from django.conf import settings as s;"
        f"print(json.dumps({{n: getattr(s, n) for n in {names!r}}}));"
        "print(json.dumps(s.CONTENT_SECURITY_POLICY['DIRECTIVES'], default=list))"
    )
    done = run("-c", code, tmp_path=tmp_path)
    assert done.returncode == 0, done.stderr
    settings, policy = (json.loads(line) for line in done.stdout.strip().splitlines()[-2:])
    assert settings == {
        "DEBUG": False,
        "SECURE_SSL_REDIRECT": True,
        "SECURE_HSTS_SECONDS": 31_536_000,
        "SECURE_CONTENT_TYPE_NOSNIFF": True,
        "SESSION_COOKIE_SECURE": True,
        "SESSION_COOKIE_HTTPONLY": True,
        "SESSION_COOKIE_SAMESITE": "Lax",
        "SESSION_COOKIE_NAME": "__Host-sessionid",
        "CSRF_COOKIE_NAME": "__Host-csrftoken",
        "CSRF_COOKIE_SECURE": True,
        "CSRF_COOKIE_SAMESITE": "Lax",
        "X_FRAME_OPTIONS": "DENY",
    }
    assert policy["frame-ancestors"] == ["'none'"] and policy["default-src"] == ["'none'"]
    assert not any("unsafe" in source or source == "*" for sources in policy.values() for source in sources)


def test_a_laptop_makes_a_secret_of_its_own_that_others_cannot_read(tmp_path):
    code = "from config.settings import local; print(local.SECRET_KEY, local.DEBUG)"
    outputs = {
        run("-c", code, tmp_path=folder, DJANGO_SETTINGS_MODULE="config.settings.local").stdout
        for folder in (tmp_path / "one", tmp_path / "two", tmp_path / "one")
    }
    assert len(outputs) == 2 and all(out.strip().endswith("False") and len(out) > 50 for out in outputs)
    assert (tmp_path / "one" / "secret.key").stat().st_mode & 0o077 == 0


@pytest.mark.parametrize(("https", "secure"), [("1", True), (None, False)])
def test_a_laptop_behind_the_clubs_own_https_keeps_its_cookies_to_it(tmp_path, https, secure):
    ask = (
        "import django, json; django.setup(); from django.conf import settings as s; "
        "print(json.dumps([s.SESSION_COOKIE_SECURE, s.CSRF_COOKIE_SECURE, s.SECURE_PROXY_SSL_HEADER is not None]))"
    )
    done = run("-c", ask, tmp_path=tmp_path, DJANGO_SETTINGS_MODULE="config.settings.local", HELMROOM_HTTPS=https)
    assert json.loads(done.stdout) == [secure, secure, secure], done.stderr
