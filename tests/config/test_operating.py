"""The page for whoever runs a server, and the files that it hands out, say what the code has."""

from __future__ import annotations

import re
import shlex
import subprocess
from pathlib import Path

import pytest
from django.core.management import get_commands, load_command_class
from django.urls import resolve

from config.process import health
from planning.models import JobState

ROOT = Path(__file__).resolve().parents[2]
DEPLOY = ROOT / "deploy"
PAGE = (ROOT / "docs" / "operating.md").read_text()
ENV_FILE = (DEPLOY / "helmroom.env").read_text()
#: Of Django and of numba; helmroom's own settings modules do not read them by name.
OTHERS = {"DJANGO_SETTINGS_MODULE", "NUMBA_CACHE_DIR"}
SPOKEN_TO = [PAGE, *(path.read_text() for path in sorted(DEPLOY.iterdir()))]


def read_by_a_server():
    texts = [(ROOT / "config" / "settings" / name).read_text() for name in ("base.py", "server.py")]
    return {name for text in texts for name in re.findall(r'env\.\w+\(\s*"([A-Z_]+)"', text)}


def said_in(text):
    """``manage.py X --flag`` and ``helmroom-manage X --flag`` of a page or a unit."""
    for words in re.findall(r"(?:manage\.py|helmroom-manage) ([^`\n&\"'|]+)", text):
        yield words.split("  ")[0].split()


def test_the_file_of_settings_names_each_that_a_server_reads_and_no_other():
    named = re.findall(r"^#?([A-Z_]+)=", ENV_FILE, re.MULTILINE)
    assert len(named) == len(set(named))
    assert set(named) == read_by_a_server() | OTHERS
    assert len(read_by_a_server()) > 15


def test_what_the_file_of_settings_leaves_to_us_is_what_holds_by_itself():
    """A line with "#" before it says the default, so it must be it."""
    base, server = ((ROOT / "config" / "settings" / name).read_text() for name in ("base.py", "server.py"))
    for name, value in re.findall(r"^#([A-Z_]+)=(.*)$", ENV_FILE, re.MULTILINE):
        default = re.search(rf'env\.\w+\("{name}", default=([^\n]+?)\)\n', base + server) or re.search(
            rf'"{name}", default=(\w+)\)', base + server
        )
        assert default, name
        said = default[1].strip("\"'")
        said = {"True": "1", "False": "0"}.get(said, said)
        if name != "HELMROOM_ADDRESS":  # made of the names
            assert value == said, name


def test_a_shell_and_systemd_read_the_file_of_settings_alike():
    given = [line for line in ENV_FILE.splitlines() if line and not line.startswith("#")]
    for line in given:
        name, _, value = line.partition("=")
        assert re.fullmatch(r"[A-Z_]+", name) and shlex.split(value or "''") == [value], line
    done = subprocess.run(
        ["sh", "-c", f". {shlex.quote(str(DEPLOY / 'helmroom.env'))}; echo $HELMROOM_BROKER"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout.strip() == "redis://127.0.0.1:6379/0" and not done.stderr


@pytest.mark.parametrize("text", SPOKEN_TO, ids=["page", *(path.name for path in sorted(DEPLOY.iterdir()))])
def test_every_command_that_is_said_is_there_with_its_flags(text):
    for name, *rest in said_in(text):
        assert name in get_commands(), name
        parser = load_command_class(get_commands()[name], name).create_parser("manage.py", name)
        known = {flag for action in parser._actions for flag in action.option_strings}
        assert {word.rstrip(".,:") for word in rest if word.startswith("--")} <= known, (name, rest)


def test_the_page_says_more_than_a_dozen_commands():
    assert len({words[0] for words in said_in(PAGE)}) >= 12


def test_every_setting_that_the_page_names_is_real():
    named = set(re.findall(r"\b(HELMROOM_[A-Z_]+|DATABASE_URL|EMAIL_URL|NUMBA_CACHE_DIR)\b", PAGE))
    assert len(named) >= 8 and named <= read_by_a_server() | OTHERS


def test_every_file_unit_and_address_that_the_page_names_is_there():
    files = set(re.findall(r"deploy/[\w.-]*\w(?![\w-]*\*)", PAGE))
    assert {f"deploy/{path.name}" for path in DEPLOY.iterdir()} <= files
    assert [name for name in files if not (ROOT / name).is_file()] == []
    units = set(re.findall(r"helmroom-\w+\.(?:service|socket|timer)", PAGE))
    assert units == {path.name for path in DEPLOY.iterdir() if path.suffix in (".service", ".socket", ".timer")}
    for address in ("/health/", "/ready/", "/metrics/"):
        assert f"`{address}`" in PAGE and resolve(address)
    assert [link for link in re.findall(r"\]\((\w+\.md)\)", PAGE) if not (ROOT / "docs" / link).is_file()] == []


def test_every_figure_to_watch_is_told_and_none_is_left_out(db):
    health.answered.labels("today", 200).inc()
    told = {line.split()[2] for line in health._told().decode().splitlines() if line.startswith("# TYPE")}
    told = {name for name in told if not name.endswith("_created")}  # when a count began: nothing to watch
    assert set(re.findall(r"`(helmroom_\w+)`", PAGE)) == told
    assert {"waiting", "running", "failed"} <= set(JobState.values)


@pytest.mark.parametrize("unit", ["helmroom-web.service", "helmroom-work.service", "helmroom-backup.service"])
def test_a_service_has_the_settings_its_own_user_and_a_folder_that_others_cannot_read(unit):
    lines = (DEPLOY / unit).read_text().splitlines()
    for line in (
        "User=helmroom",
        "EnvironmentFile=/etc/helmroom/helmroom.env",
        "StateDirectoryMode=0700",
        "UMask=0077",
        "NoNewPrivileges=yes",
        "ProtectSystem=strict",
    ):
        assert line in lines
    assert "HELMROOM_DATA=/var/lib/helmroom" in ENV_FILE.splitlines()
    assert any(line.startswith("StateDirectory=helmroom") for line in lines)


def test_the_proxy_replaces_what_a_client_claims_and_writes_no_addresses_down():
    proxy = (DEPLOY / "nginx.conf").read_text()
    assert "X-Forwarded-For $remote_addr;" in proxy and "$proxy_add_x_forwarded_for" not in proxy
    assert proxy.count("access_log off;") == proxy.count("server {") == 2
    assert "X-Forwarded-Proto https;" in proxy and "HELMROOM_PROXIES=1" in ENV_FILE.splitlines()
    socket = (DEPLOY / "helmroom-web.socket").read_text()
    assert re.search(r"ListenStream=(.+)", socket)[1] in re.search(r"proxy_pass http://unix:(.+);", proxy)[1]


def test_the_processes_of_the_web_server_count_in_a_folder_that_begins_empty_with_them():
    web = (DEPLOY / "helmroom-web.service").read_text()
    folder = re.search(rf"Environment={health.TOGETHER}=/run/(.+)", web)[1]
    assert f"RuntimeDirectory={folder}" in web.splitlines() and "RuntimeDirectoryPreserve" not in web


def test_a_web_server_that_crashes_leaves_nothing_of_what_it_held():
    assert "LimitCORE=0" in (DEPLOY / "helmroom-web.service").read_text().splitlines()


def test_a_service_is_given_as_long_to_end_as_requests_may_take():
    web = (DEPLOY / "helmroom-web.service").read_text()
    assert int(re.search(r"TimeoutStopSec=(\d+)", web)[1]) > int(re.search(r"--graceful-timeout (\d+)", web)[1])


def test_no_file_of_it_holds_a_secret():
    assert re.search(r"^HELMROOM_SECRET=$", ENV_FILE, re.MULTILINE)
    assert re.search(r"^HELMROOM_METRICS_TOKEN=$", ENV_FILE, re.MULTILINE)
    for text in SPOKEN_TO:
        assert not re.search(r"postgres://\w+:(?!PASSWORD)[^@\s]+@", text)
