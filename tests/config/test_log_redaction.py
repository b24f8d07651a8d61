"""No line of a log opens a door or forges another line."""

from __future__ import annotations

import io
import logging

import pytest

from classroom.errors import InputError
from classroom.families.share_summary import make_link
from classroom.teams.services.tablet_sign_in import sign_in_tablet
from config.logs import NoTraceOfStrangers, RedactTokens, UtcFormatter, redacted
from tests import factories as make

TOKEN = "Zm9vYmFyYmF6cXV4-_0123456789abcdefghijklmno"


@pytest.fixture
def lines():
    """A stream behind the filter and the formatter that settings use."""
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.addFilter(RedactTokens())
    handler.addFilter(NoTraceOfStrangers())
    handler.setFormatter(UtcFormatter("%(asctime)s %(levelname)s %(message)s"))
    root = logging.getLogger()
    root.addHandler(handler)
    yield stream
    root.removeHandler(handler)


@pytest.mark.parametrize("path", ["/family/{}/", "/join/{}/", "/calendar/{}.ics", "/account/password/reset/key/3-{}/"])
def test_a_token_in_an_address_is_left_out(path):
    said = redacted(f'"GET {path.format(TOKEN)} HTTP/1.1" 404')
    assert TOKEN not in said and "[left out]" in said and said.endswith("404")


@pytest.mark.parametrize(
    "path",
    [
        "//family/{}/",
        "/Family/{}/",
        "/FAMILY//{}",
        "/x/{}/",
        "/board/?next={}",
        "/account//Password/reset/key/3-{}",
        "https://club.example/join/{}/",
    ],
)
def test_a_token_is_left_out_wherever_it_stands(path):
    assert TOKEN not in redacted(f'"GET {path.format(TOKEN)} HTTP/1.1" 404')


@pytest.mark.parametrize("path", ["/Team/acdefghj/", "//team//ACDEFGHJ", "/team/ACDEFGHJ?x=1"])
def test_a_code_is_left_out_however_it_is_written(path):
    assert "acdefghj" not in redacted(f"GET {path} 301").lower()


def test_a_refusal_says_who_and_whence(cast, lines):
    cast.as_observer.post("/settings/clock/", {"time_zone": "Europe/Berlin"}, REMOTE_ADDR="192.0.2.7")
    said = lines.getvalue()
    assert f"refused POST /settings/clock/ to coach:{cast.observer.pk} from 192.0.2.7" in said
    assert said.count("/settings/clock/") == 1, "once"


def test_a_tablet_let_in_and_refused_is_logged(cast, lines):
    with pytest.raises(InputError):
        sign_in_tablet(cast.team_a.join_code, "000000", source="192.0.2.7", now=make.NOW)
    sign_in_tablet(cast.team_a.join_code, make.PIN, source="192.0.2.7", now=make.NOW)
    said = lines.getvalue()
    assert f"refused from 192.0.2.7 for team:{cast.team_a.pk}" in said and "opened" in said
    assert make.PIN not in said and cast.team_a.join_code not in said


def test_a_teams_code_in_an_address_is_left_out():
    assert redacted("GET /team/ACDEFGHJ/ 200") == "GET /team/[left out]/ 200"
    assert redacted("GET /team/mission/ 200") == "GET /team/mission/ 200"


def test_a_token_passed_as_an_argument_is_left_out(lines):
    logging.getLogger("helmroom.door").warning("refused %s", f"/family/{TOKEN}/")
    assert TOKEN not in lines.getvalue()


def test_a_log_call_with_wrong_arguments_breaks_nothing_and_shows_no_token(lines):
    logging.getLogger("helmroom.door").warning("refused %d", f"/family/{TOKEN}/")
    assert "refused" in lines.getvalue() and TOKEN not in lines.getvalue()


def test_a_line_break_from_outside_makes_no_second_line(lines):
    logging.getLogger("helmroom.door").warning("refused %s", "x\n2026-11-25 INFO sign-in of user:1\r\x1b[2J")
    assert lines.getvalue().count("\n") == 1


def test_times_are_in_utc(lines):
    logging.getLogger("helmroom.door").warning("x")
    assert lines.getvalue().split(" ")[0].endswith("Z")


def test_a_wrong_link_leaves_no_token_in_the_log(db, client, lines):
    """Django logs the address of every 404."""
    assert client.post(f"/family/{TOKEN}/").status_code == 404
    assert "/family/" in lines.getvalue() and TOKEN not in lines.getvalue()


def test_a_traceback_under_a_familys_door_shows_no_token(db, client, lines, monkeypatch):
    def broken(*args, **kwargs):
        raise RuntimeError(f"while opening /family/{TOKEN}/")

    monkeypatch.setattr("missions.family.views.summary.open_link", broken)
    client.raise_request_exception = False
    assert client.post(f"/family/{TOKEN}/").status_code == 500
    assert "RuntimeError" in lines.getvalue() and TOKEN not in lines.getvalue()


def test_a_coachs_refused_sign_in_is_logged_without_what_was_typed(db, client, lines):
    client.post("/account/sign-in/", {"login": "wren@example.org", "password": "low-water"})
    said = lines.getvalue()
    assert "sign-in refused from 127.0.0.1" in said
    assert "low-water" not in said and "wren@" not in said


def test_opening_a_link_writes_the_audit_without_the_token(cast):
    from classroom.models import AuditEntry

    _, token = make_link(cast.member_a, cast.coach, now=make.NOW)
    make.AttemptFactory(team=cast.team_a)
    cast.as_nobody.post(f"/family/{token}/")
    rows = [f"{row.actor} {row.verb} {row.subject}" for row in AuditEntry.objects.all()]
    assert any("opened summary" in row for row in rows) and not any(token in row for row in rows)


def test_a_body_that_is_too_large_is_a_line_in_the_log_and_no_traceback(cast, lines):
    answer = cast.as_coach.post("/settings/", "name=" + "x" * 3_000_000, "application/x-www-form-urlencoded")
    assert answer.status_code == 400
    assert "body exceeded" in lines.getvalue() and "Traceback" not in lines.getvalue()
