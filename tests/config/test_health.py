"""What a server tells whoever runs it."""

from __future__ import annotations

import json
import logging
import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from django.db import OperationalError, connection
from prometheus_client.parser import text_string_to_metric_families

from config.logs import JsonFormatter, NameRequest, RedactTokens
from config.process import health
from planning.models import JobState
from tests import factories as make

ROOT = Path(__file__).resolve().parents[2]
TOKEN = {"authorization": "Bearer tide table"}


def test_it_is_alive_whatever_the_database_does(client):
    """No ``db``: a query would raise."""
    answer = client.get("/health/")
    assert (answer.status_code, answer.content) == (200, b"alive\n")


def test_it_is_ready_with_database_and_migrations(db, client):
    answer = client.get("/ready/")
    assert answer.status_code == 200
    assert json.loads(answer.content) == {"database": True, "migrations": True, "broker": True, "kernels": True}


@pytest.mark.parametrize("who", ["client", "as_coach", "as_team_a"])
def test_it_is_not_ready_without_its_database_and_says_so_to_whoever_asks(cast, client, who):
    client = client if who == "client" else getattr(cast, who)

    def fails(*args):
        raise OperationalError("connection refused")

    with connection.execute_wrapper(fails):
        health.connection.close, kept = lambda: None, health.connection.close
        try:
            answer = client.get("/ready/")
        finally:
            health.connection.close = kept
    assert answer.status_code == 503 and answer.headers["Retry-After"]
    assert json.loads(answer.content)["database"] is False


def test_it_is_not_ready_before_its_migrations(db, client, monkeypatch):
    monkeypatch.setattr(health, "_migrated", False)
    monkeypatch.setattr(health.MigrationExecutor, "migration_plan", lambda self, targets: [("0009", False)])
    answer = client.get("/ready/")
    assert answer.status_code == 503 and json.loads(answer.content)["migrations"] is False


def test_a_broker_that_is_away_is_told_and_turns_nobody_away(db, client, settings):
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        settings.HELMROOM_BROKER = f"redis://127.0.0.1:{held.getsockname()[1]}/0"
        answer = client.get("/ready/")
    assert answer.status_code == 200 and json.loads(answer.content)["broker"] is False


@pytest.mark.parametrize(
    "said", [{}, {"authorization": "Bearer "}, {"authorization": "Bearer tide"}, {"authorization": "tide table"}]
)
@pytest.mark.parametrize("token", ["", "tide table"])
def test_metrics_are_for_the_token_only(db, client, settings, said, token):
    settings.HELMROOM_METRICS_TOKEN = token
    assert client.get("/metrics/", headers=said).status_code == 404


def test_metrics_count_requests_jobs_waits_and_refusals(cast, client, settings):
    settings.HELMROOM_METRICS_TOKEN = "tide table"
    health.answered.clear()
    make.JobFactory(), make.JobFactory(state=JobState.DONE)
    client.get("/health/"), client.get("/health/"), client.get("/nothing-here/")
    client.post("/team/", {"code": cast.team_a.join_code, "pin": "000000"})
    text = client.get("/metrics/", headers=TOKEN).content.decode()
    found = dict(line.rsplit(" ", 1) for line in text.splitlines() if not line.startswith("#"))
    assert found['helmroom_requests_total{status="200",view="health"}'] == "2.0"
    assert found['helmroom_requests_total{status="404",view="none"}'] == "1.0"
    assert (found['helmroom_jobs{state="waiting"}'], found['helmroom_jobs{state="done"}']) == ("1.0", "1.0")
    assert float(found["helmroom_job_longest_wait_seconds"]) > 0
    assert found['helmroom_sign_ins_refused{door="team"}'] == "1.0"
    told = {family.name for family in text_string_to_metric_families(text)}
    assert {"helmroom_requests", "helmroom_jobs", "helmroom_sign_ins_refused"} <= told
    assert str(cast.club) not in text, "of no club"


def test_the_processes_of_a_server_tell_their_sum_whichever_is_asked(tmp_path):
    """Three processes one after the other: two answer, the third is asked."""
    answer = "from django.test import Client; Client().get('/health/')"
    ask = (
        "from config.process import health; health.ClubsOfAll.collect = lambda self: []; print(health._told().decode())"
    )
    begin = (
        "import django; django.setup(); from django.test.utils import setup_test_environment; setup_test_environment();"
    )
    env = os.environ | {
        health.TOGETHER: str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "config.settings.test",
        "HELMROOM_DATA": str(tmp_path),
    }
    for _ in range(2):
        subprocess.run([sys.executable, "-c", begin + answer], env=env, check=True, cwd=ROOT)
    done = subprocess.run(
        [sys.executable, "-c", begin + ask], env=env, check=True, cwd=ROOT, capture_output=True, text=True
    )
    assert 'helmroom_requests_total{status="200",view="health"} 2.0' in done.stdout


def test_the_lines_of_a_request_carry_the_name_that_its_answer_has(cast, caplog):
    lines: list[dict[str, str]] = []

    class Keeps(logging.Handler):
        def emit(self, record):
            lines.append(json.loads(self.format(record)))

    handler = Keeps()
    handler.addFilter(RedactTokens())
    handler.addFilter(NameRequest())
    handler.setFormatter(JsonFormatter())
    logging.getLogger("helmroom").addHandler(handler)
    try:
        answers = [cast.as_observer.post("/settings/clock/", headers={"X-Request-ID": "forged"}) for _ in range(2)]
    finally:
        logging.getLogger("helmroom").removeHandler(handler)
    names = [answer.headers["X-Request-ID"] for answer in answers]
    assert [line["request_id"] for line in lines] == names and len(set(names)) == 2 and "forged" not in names
    assert lines[0]["message"].startswith("refused POST") and lines[0]["at"].endswith("Z")
