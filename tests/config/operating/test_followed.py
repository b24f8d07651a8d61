"""The page for whoever runs a server is followed, command by command, from a fresh machine to an upgrade and a copy put back."""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import psutil
import psycopg
import pytest
import redis
from psycopg import sql

from tests.config.operating.machine import ADMIN, Machine, WentWrongError, blocks_of
from tests.config.operating.visitor import Callers, Visitor
from tests.patience import LONGEST_S, until
from tests.servers import answers

POSTGRES = os.environ.get("HELMROOM_TEST_POSTGRES", "postgres://postgres@127.0.0.1:5432/postgres")
#: A number of its own: 8 and on are those of the workers' tests.
REDIS = f"{os.environ.get('HELMROOM_TEST_REDIS', 'redis://127.0.0.1:6379')}/7"
PASSWORD = "lantern-oyster-pontoon-quay"
WEB, WORK = "helmroom-web.service", "helmroom-work.service"
#: Follows a log until somebody presses Ctrl-C, and the log is systemd's.
NOT_TYPED = [("Logs", 0)]
TEAMS = "select id, name from classroom_team order by id"
#: Changes nothing, and is there to be carried out.
MIGRATION = """
from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("classroom", "{last}")]
    operations = [migrations.RunPython(migrations.RunPython.noop)]
"""

pytestmark = [
    pytest.mark.slow,
    pytest.mark.postgres,
    pytest.mark.redis,
    pytest.mark.skipif(not answers(POSTGRES, 5432), reason="no PostgreSQL answers"),
    pytest.mark.skipif(not answers(REDIS, 6379), reason=f"no Redis answers at {REDIS}"),
]


@pytest.fixture
def machine() -> Iterator[Machine]:
    folder = Path(tempfile.mkdtemp(prefix="helmroom-"))  # short: a socket's path has at most 107 letters
    one = Machine(folder, POSTGRES, f"helmroom_{secrets.token_hex(4)}", secrets.token_hex(8))
    try:
        yield one
    finally:
        one.close()
        with psycopg.connect(POSTGRES, autocommit=True) as line:
            for what in ("DATABASE", "ROLE"):
                line.execute(sql.SQL(f"DROP {what} IF EXISTS {{}}").format(sql.Identifier(one.owner)))
        redis.Redis.from_url(REDIS).flushdb()
        shutil.rmtree(folder)


def visitor(machine: Machine, **cookies: str) -> Visitor:
    return Visitor(machine.folder / "run/helmroom/web.sock", LONGEST_S, **cookies)


def ready(machine: Machine) -> dict[str, bool]:
    """By the page's own commands, of which the second shows figures."""
    said = machine.follow("Is it well")
    assert "# TYPE helmroom_jobs gauge" in said
    return dict(json.loads(said[said.index("{") : said.index("}") + 1]))


def rows(machine: Machine, question: str) -> list[tuple[object, ...]]:
    with psycopg.connect(machine.database_url) as line:
        return line.execute(question).fetchall()  # type: ignore[arg-type]


def signed_in(machine: Machine, login: str, password: str) -> Visitor:
    browser = visitor(machine)
    browser.post("/account/sign-in/", login=login, password=password)
    return browser


def laptop_with_a_club(machine: Machine) -> tuple[Path, dict[str, str]]:
    """A folder as ``make run`` leaves it: a club with two teams in ``var/``; who is signed in."""
    place = machine.put_code("../../laptop").resolve()
    (place / ".venv").symlink_to(sys.prefix)
    seed = (
        "import os, sys; os.environ['DJANGO_SETTINGS_MODULE'] = 'config.settings.local'; "
        "from tests.faults.seed import main; main(2)"
    )
    said = machine.type(
        f".venv/bin/python manage.py migrate --verbosity 0\n.venv/bin/python -c {json.dumps(seed)}", at=place
    )
    return place, json.loads(said.splitlines()[-1])


def test_the_page_is_followed_from_the_first_line_to_the_last(machine: Machine) -> None:
    first = machine.put_code("FIRST")
    laptops = ThreadPoolExecutor(1).submit(laptop_with_a_club, machine)  # elsewhere, and meanwhile

    # Install, settings and the check, which says what is missing until nothing is.
    machine.follow("Install")
    with psycopg.connect(POSTGRES, autocommit=True) as line:
        who = sql.Identifier(machine.owner)
        line.execute(sql.SQL("ALTER ROLE {} PASSWORD {}").format(who, sql.Literal(machine.password)))
    machine.follow("Settings", at=first)
    with pytest.raises(WentWrongError, match="Set HELMROOM_SECRET"):
        machine.follow("Start-up check", 0, at=first)
    machine.set(HELMROOM_SECRET=secrets.token_urlsafe(50), HELMROOM_BROKER=REDIS, HELMROOM_METRICS_TOKEN="TOKEN")
    with pytest.raises(WentWrongError, match="EMAIL_URL"):
        machine.follow("Start-up check", 0, at=first)
    machine.set(EMAIL_URL="smtp+tls://u:p@127.0.0.1:587", HELMROOM_MAIL_FROM="club@club.example")

    # Started, with a club of its own whose coach gets something done by the worker.
    said = machine.follow("Start-up check", at=first)
    assert ready(machine) == {"database": True, "migrations": True, "broker": True, "kernels": True}
    coach = visitor(machine)
    link = re.search(r"https://club\.example(/join/[\w-]+/)", said)
    assert link, said
    coach.post(link[1], name="Coach Glasswort", password=PASSWORD)
    assert "NAME OF THE CLUB" in signed_in(machine, "coach@club.example", PASSWORD).get("/")
    coach.post("/families/", to="/families/drafts/")
    until(lambda: rows(machine, "select 1 from planning_job where state = 'done'"), "the worker")
    supporter = rows(machine, f"select is_superuser from classroom_user where email = '{ADMIN['EMAIL']}'")
    assert supporter == [(True,)]

    # A laptop's club moves in, in place of that one, and its coach stays signed in.
    laptop, there = laptops.result()
    machine.follow("From SQLite to PostgreSQL", 0, at=laptop)
    shutil.copy(laptop / "laptop.copy", machine.folder / "var/lib/helmroom/laptop.copy")
    machine.set(HELMROOM_SECRET=(laptop / "var/secret.key").read_text().strip())
    said = machine.follow("From SQLite to PostgreSQL", 1, 2, 3)
    assert "each read again there and the same" in said
    coach = visitor(machine, **{"__Host-sessionid": there["coach"]})
    coach.get("/")
    teams = rows(machine, TEAMS)
    assert len(teams) == 2
    machine.follow("From SQLite to PostgreSQL", 4)
    assert not list((machine.folder / "var/lib/helmroom").glob("laptop*"))

    # Copies: by hand, and by the unit that the timer starts.
    machine.follow("Copies", 0)
    machine.type("systemctl start helmroom-backup.service")
    assert len(list((machine.folder / "var/lib/helmroom-copies").glob("*.copy"))) == 2

    # The next version, while four look at the board all the time.
    following = machine.put_code("NEXT")
    last = max(path.stem for path in (following / "classroom/migrations").glob("0*.py"))
    (following / "classroom/migrations/9999_followed.py").write_text(MIGRATION.format(last=last))
    (following / "static/site/followed.css").write_text("main { color: inherit }\n")
    install = [line for line in machine.blocks["Install"][0].splitlines() if ".venv" in line]
    lookers = [visitor(machine, **coach.cookies) for _ in range(4)]
    with Callers(lookers, "/") as callers:
        machine.type(machine.typed("\n".join(install)), at=following)
        said = machine.follow("Upgrade", 0)
        assert "9999_followed" in said
        before = machine.units.running[WEB].pid
        machine.follow("Upgrade", 1, at=following)  # the same shell on the page
        assert machine.units.running[WEB].pid != before
        assert ready(machine)["migrations"]
        machine.follow("Rolling restart")
        before = children_of(machine.units.running[WEB].pid)
        machine.type("systemctl reload helmroom-web.service")
        until(lambda: not before & children_of(machine.units.running[WEB].pid), "other processes")
        machine.type("systemctl restart helmroom-work.service")
        enough = callers.well + 20
        until(lambda: callers.wrong or callers.well >= enough, "answers by the new processes")
    assert callers.wrong == []
    assert coach.ask("GET", "/static/site/followed.css")[0] == 200
    assert machine.units.is_up(WEB) and machine.units.is_up(WORK)

    # A copy put back into an empty database.
    machine.follow("From SQLite to PostgreSQL", 1)
    machine.follow("Copies", 1)
    machine.type("systemctl start helmroom-web.socket helmroom-web.service helmroom-work.service")
    signed_in(machine, there["email"], there["password"])
    assert rows(machine, TEAMS) == teams

    said_on_page = {(heading, number) for heading, blocks in machine.blocks.items() for number in range(len(blocks))}
    assert said_on_page - set(machine.done) == set(NOT_TYPED)


def children_of(pid: int) -> set[int]:
    return {child.pid for child in psutil.Process(pid).children()}


def test_a_command_of_the_page_that_goes_wrong_is_not_passed_over(machine: Machine) -> None:
    machine.blocks = blocks_of(
        "# Page\n\n## Install\n\n    mkdir /srv/helmroom\n    cd /srv/helmroom/SECOND\n    true\n"
    )
    with pytest.raises(WentWrongError, match="SECOND"):
        machine.follow("Install")
    assert machine.done == []


def test_blocks_stand_under_their_headings_without_their_depth():
    page = "# Page\n\n## One\n\nDo:\n\n    a\n    b\n\n1. Then:\n\n       c\n\n## Two\n\nNothing.\n"
    assert blocks_of(page) == {"One": ["a\nb\n", "c\n"], "Two": []}
