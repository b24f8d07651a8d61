"""The data folder is its owner's alone (OWASP ASVS 5.0.0, 13.3 and 14.2, from memory), also where it was open before."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from django.conf import settings

pytestmark = pytest.mark.skipif(os.name != "posix", reason="Windows has rights of its own kind")


def rights(path):
    return oct(path.stat().st_mode & 0o777)


def test_a_start_closes_the_folder_and_all_that_lies_in_it(tmp_path):
    folder = tmp_path / "var"
    (folder / "broker").mkdir(parents=True)
    for path in (folder / "helmroom.sqlite3", folder / "broker" / "message"):
        path.write_text("x")
        path.chmod(0o644)
    folder.chmod(0o755)
    environment = os.environ | {"HELMROOM_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "config.settings.local"}
    code = "from django.conf import settings; settings.DEBUG; open(settings.DATA_DIR / 'new', 'w').close()"
    subprocess.run([sys.executable, "-c", code], env=environment, cwd=settings.BASE_DIR, check=True)
    assert {path.name: rights(path) for path in (folder, *folder.rglob("*"))} == {
        "var": "0o700", "broker": "0o700", "message": "0o600", "helmroom.sqlite3": "0o600", "secret.key": "0o600", "new": "0o600",
    }  # fmt: skip
