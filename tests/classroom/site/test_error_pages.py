"""What went wrong is said in words, under every security header, though database, session and templates are broken."""

from __future__ import annotations

import json
import logging
from copy import deepcopy

import pytest
from django.core.exceptions import SuspiciousOperation
from django.db import InterfaceError, OperationalError, connection
from django.test import Client, RequestFactory
from django.urls import reverse

from classroom.site import error_pages
from classroom.site.database_away import RETRY_AFTER_S
from tests.pages import page_of

HEADERS = {
    "Content-Security-Policy",
    "Cross-Origin-Opener-Policy",
    "Permissions-Policy",
    "Referrer-Policy",
    "X-Content-Type-Options",
    "X-Frame-Options",
}
PAGES = {
    400: lambda request: error_pages.bad_request(request, SuspiciousOperation("x")),
    403: lambda request: error_pages.not_allowed(request, PermissionError("Ask a lead coach.")),
    404: lambda request: error_pages.not_found(request, LookupError("x")),
    500: error_pages.broken,
    503: lambda request: error_pages.away(request, OperationalError("the connection is closed")),
}


@pytest.fixture
def browser():
    client = Client()
    client.raise_request_exception = False
    return client


@pytest.mark.parametrize("status", PAGES)
def test_a_page_needs_no_database_session_user_or_context_processor(status, settings):
    """No ``db`` here: a query would raise. The request is as bare as that of the outermost middleware."""
    templates = deepcopy(settings.TEMPLATES)
    templates[0]["OPTIONS"]["context_processors"] = ["nobody.has.this"]
    settings.TEMPLATES = templates  # a new list: what stands within the old one would be so for every later test
    answer = PAGES[status](RequestFactory().get("/board/"))
    assert answer.status_code == status
    assert "<h1>" in answer.content.decode() and "helmroom" in answer.content.decode()


@pytest.mark.parametrize("status", PAGES)
def test_even_with_broken_templates_it_is_said_in_words(status, monkeypatch):
    def broken(*args, **more):
        raise OSError("no such file")

    monkeypatch.setattr(error_pages, "get_template", broken)
    answer = PAGES[status](RequestFactory().get("/board/"))
    assert answer.status_code == status and "<h1>" in answer.content.decode()


@pytest.mark.django_db
@pytest.mark.parametrize("host", ["evil.example", "a b", "x" * 300, "[::1", "club.example:99999999", "ｅｖｉｌ"])
@pytest.mark.parametrize("path", ["/", "/team/", "/support/", "/nothing-here/"])
def test_a_wrong_host_gets_words_and_the_log_one_line(browser, host, path, caplog):
    with caplog.at_level(logging.INFO):
        answer = browser.get(path, headers={"host": host})
    assert answer.status_code == 400
    assert "That could not be read" in answer.content.decode()
    assert set(answer.headers) >= HEADERS
    lines = [record for record in caplog.records if record.levelno >= logging.WARNING]
    assert len(lines) == 1 and lines[0].exc_info is None


def test_a_server_that_sends_to_https_says_all_headers_to_a_wrong_host(browser, settings):
    settings.SECURE_SSL_REDIRECT = True
    answer = browser.get("/", headers={"host": "evil.example"})
    assert answer.status_code == 400 and set(answer.headers) >= HEADERS


def test_every_answer_has_the_headers_and_https_its_year(cast, browser, settings):
    settings.SECURE_HSTS_SECONDS = 31_536_000
    for client, path in [(browser, "/nothing-here/"), (browser, "/static/site/mark.svg"), (cast.as_coach, "/")]:
        answer = client.get(path, secure=True, follow=True)
        assert set(answer.headers) >= HEADERS, path
        assert "max-age=31536000" in answer.headers["Strict-Transport-Security"]
    assert "Strict-Transport-Security" not in browser.get("/nothing-here/").headers


def test_a_style_sheet_or_module_bears_only_what_guards_it(browser):
    """A tablet on a slow network pays for each byte of a header in each of fourteen files."""
    for path in ("/static/site/helmroom.css", "/static/site/tablet.js"):
        answer = browser.get(path)
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert not {"Content-Security-Policy", "Permissions-Policy", "Access-Control-Allow-Origin"} & set(
            answer.headers
        )
    # A worker is a script that a policy holds, and a page under that path is a page.
    for path in ("/team/worker.js", "/static/site/nothing.css"):
        assert set(browser.get(path).headers) >= HEADERS, path


def test_a_coach_who_is_known_keeps_the_links_and_can_sign_out(cast):
    page = page_of(cast.as_coach.get("/nothing-here/"))
    assert "Nothing here" in page and cast.club.name in page and "Sign out" in page


class TestDatabaseAway:
    """Every question to it fails, as those do that meet a server which has gone."""

    @pytest.fixture(
        params=[OperationalError("unable to open database file"), InterfaceError("connection already closed")]
    )
    def away(self, request):
        asked: list[str] = []

        def fails(execute, sql, params, many, context):
            asked.append(sql)
            raise request.param

        with connection.execute_wrapper(fails):
            yield asked

    def test_a_page_says_so_once_and_when_to_come_again(self, cast, away, caplog):
        cast.as_coach.raise_request_exception = False
        with caplog.at_level(logging.INFO):
            answer = cast.as_coach.get(reverse("today"))
        assert answer.status_code == 503
        assert answer.headers["Retry-After"] == str(RETRY_AFTER_S)
        assert "cannot be reached" in page_of(answer)
        assert set(answer.headers) >= HEADERS
        assert len(away) == 1, "nothing on the way out asks again"
        lines = [record for record in caplog.records if record.levelno >= logging.WARNING]
        assert len(lines) == 1 and lines[0].exc_info is None

    def test_a_tablet_hears_it_as_data_and_waits(self, cast, away):
        cast.as_team_a.raise_request_exception = False
        answer = cast.as_team_a.post(
            reverse("team_runs"), "{}", content_type="application/json", headers={"Accept": "application/json"}
        )
        assert answer.status_code == 503 and answer.headers["Retry-After"] == str(RETRY_AFTER_S)
        assert json.loads(answer.content)["code"] == "database_away"


@pytest.mark.parametrize(
    "words", ["database is locked", "database or disk is full", "attempt to write a readonly database"]
)
def test_what_sqlite_cannot_do_now_is_no_broken_page_wherever_it_is_met(cast, monkeypatch, words):
    """In a middleware too, where no view is there to be tried again."""

    def fails(request):
        raise OperationalError(words)

    monkeypatch.setattr("classroom.site.middleware.current_club", fails)
    cast.as_coach.raise_request_exception = False
    answer = cast.as_coach.get("/")
    assert answer.status_code == 503 and "Retry-After" in answer.headers


def test_a_missing_table_is_our_fault_and_said_so(cast, monkeypatch):
    """SQLite and PostgreSQL each in its own words."""

    def fails(request):
        with connection.cursor() as cursor:
            cursor.execute("SELECT height_m FROM tide")

    monkeypatch.setattr("classroom.site.middleware.current_club", fails)
    cast.as_coach.raise_request_exception = False
    assert cast.as_coach.get("/").status_code == 500
