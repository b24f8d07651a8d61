"""A team's tablet in a real browser: sign in, log runs with and without network, lose nothing."""

from __future__ import annotations

import contextlib
import datetime as dt
import http.client
import threading
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import psutil
import pytest
from django.utils import timezone

from missions.models import Attempt
from tests import factories as make
from tests.browser.conftest import CHROMIUM, FLAGS, until_on
from tests.patience import LONGEST_MS, LONGEST_S

pytestmark = pytest.mark.browser
CODE = "T34679AC"
#: A rule of the server's that this tablet does not know.
UNCHECKED = "document.querySelector('#duration').removeAttribute('data-check')"


@pytest.fixture
def club(site: Any) -> Any:
    """Team A with an open tier and a code."""
    site.team_a.join_code = CODE
    site.team_a.save()
    site.tier = make.mission_with_tiers(site.club)[1][0].tier
    make.ProgressFactory(team=site.team_a, tier=site.tier)
    make.ProgressFactory(team=site.team_b, tier=site.tier)
    return site


def sign_in(page: Any, code: str = CODE, pin: str = make.PIN) -> None:
    page.goto("/team/")
    page.fill("#id_code", code)
    page.fill("#id_pin", pin)
    page.get_by_role("button", name="Open our team").click()
    page.get_by_role("link", name="Our mission", exact=True).wait_for()


def answer(page: Any, *, clean: bool = True, seconds: str = "38.2") -> None:
    page.fill("#duration", seconds)
    for label in page.locator(".pick.yes" if clean else ".pick.no").all():
        label.click()


def log(page: Any, **how: Any) -> None:
    answer(page, **how)
    page.get_by_role("button", name="Save this run").click()
    page.get_by_role("button", name="Log the next run").wait_for()


def kept(page: Any) -> Any:
    return page.locator("#kept")


def test_a_team_signs_in_by_code_and_by_qr_address(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(path="/team/")
    sign_in(page, "t346 79ac")
    assert page.get_by_text("Team Curlew").is_visible()
    other = open_page(path=f"/team/{CODE}/")
    other.locator("#id_pin:focus").wait_for()
    other.keyboard.type(make.PIN)
    other.keyboard.press("Enter")
    other.get_by_role("link", name="Log a run").first.wait_for()


def test_a_refused_sign_in_says_what_to_do_and_keeps_the_code(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(path="/team/")
    page.fill("#id_code", CODE)
    page.fill("#id_pin", "000000")
    page.get_by_role("button", name="Open our team").click()
    assert "ask your coach" in page.get_by_role("alert").inner_text()
    assert page.input_value("#id_code") == CODE
    assert page.input_value("#id_pin") == ""


def test_a_run_is_saved_with_one_tap_and_says_what_happened(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/", width=820, height=1180, touch=True)
    page.get_by_role("button", name="Start", exact=True).tap()
    page.get_by_role("button", name="Stop").tap()
    assert float(page.input_value("#duration")) < 30
    answer(page, clean=False, seconds="1:02.5")
    page.get_by_role("radio", name="Turned too far").tap()
    box = page.locator("#pad").bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] * 0.35, box["y"] + box["height"] * 0.6)
    assert "to the left" in page.locator("#pad-words").inner_text()
    page.get_by_role("button", name="Save this run").tap()
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    row = Attempt.objects.get()
    assert (row.duration_s, row.cause, row.success) == (62.5, "turned_too_far", False)
    assert row.lateral_mm > 0 > row.along_mm
    assert row.uuid.version == 7
    page.locator("#what-it-says").get_by_text("Time 1:02.5").wait_for()
    assert "Saved" in kept(page).inner_text()


def test_the_last_run_is_put_right_in_its_place(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    log(page, seconds="38.2")
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    page.get_by_role("button", name="Put this run right").click()
    page.fill("#duration", "41")
    page.get_by_role("button", name="Save the change").click()
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    assert [a.duration_s for a in Attempt.objects.standing()] == [41.0]
    assert Attempt.objects.count() == 2


class Unreliable:
    """Stands between a tablet and the site: forwards, but can drop every third answer of the sync, or be down."""

    def __init__(self, to: str) -> None:
        self.to = to.removeprefix("http://")
        self.drop_every_third = False
        self.syncs = 0
        self.dropped = 0
        self.server: Any = None

    def start(self, port: int = 0) -> int:
        outer = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def forward(self) -> None:
                body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
                inner = http.client.HTTPConnection(outer.to, timeout=LONGEST_S)
                inner.request(self.command, self.path, body, dict(self.headers))
                got = inner.getresponse()
                content = got.read()
                if self.path == "/team/runs/" and b'"do"' in body:
                    outer.syncs += 1
                    if outer.drop_every_third and outer.syncs % 3 == 0:
                        outer.dropped += 1
                        self.close_connection = True
                        return
                self.send_response(got.status)
                for name, value in got.getheaders():
                    if name.lower() not in ("transfer-encoding", "connection", "content-length", "date", "server"):
                        self.send_header(name, value)
                self.send_header("Content-Length", str(len(content)))
                self.end_headers()
                self.wfile.write(content)

            do_GET = do_POST = forward

            def log_message(self, *args: Any) -> None:
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", port), Handler)
        self.server.daemon_threads = True
        threading.Thread(target=self.server.serve_forever, daemon=True).start()
        return int(self.server.server_address[1])

    def stop(self) -> int:
        port = int(self.server.server_address[1])
        self.server.shutdown()
        self.server.server_close()
        return port


@pytest.fixture
def between(live_server: Any) -> Iterator[Unreliable]:
    proxy = Unreliable(live_server.url)
    yield proxy
    if proxy.server:
        proxy.stop()


def test_ten_runs_offline_through_a_bad_server_that_restarts_are_exactly_ten_rows(
    club: Any, chromium: Any, between: Unreliable
) -> None:
    port = between.start()
    context = chromium.new_context(base_url=f"http://127.0.0.1:{port}")
    context.set_default_timeout(LONGEST_MS)
    page = context.new_page()
    sign_in(page)
    page.goto("/team/log/")
    kept(page).get_by_text("Saved").wait_for()
    context.set_offline(True)
    for n in range(10):
        log(page, seconds=f"{30 + n}.5")
        kept(page).get_by_text(f"Waiting for network ({n + 1})").wait_for()
        page.get_by_role("button", name="Log the next run").click()
    assert Attempt.objects.count() == 0
    between.drop_every_third = True
    between.syncs = 2  # the very next answer is dropped
    context.set_offline(False)
    until_on(page, lambda: between.dropped, "an answer to be lost")
    between.stop()
    between.start(port)
    kept(page).get_by_text("Saved").wait_for()
    assert between.dropped >= 1
    assert sorted(a.duration_s for a in Attempt.objects.all()) == [30.5 + n for n in range(10)]
    for n in range(6):  # one at a time now, every third answer lost
        log(page, seconds=f"{50 + n}")
        kept(page).get_by_text("Saved").wait_for()
        page.get_by_role("button", name="Log the next run").click()
    assert between.dropped >= 3
    assert Attempt.objects.count() == 16
    context.close()


def test_the_button_for_the_next_run_stays_under_the_finger_when_the_server_has_its_say(
    club: Any, open_page: Callable[..., Any]
) -> None:
    """What it said came above the button: a press at that moment met something else, and the form stayed away."""
    page = open_page(club.as_team_a, "/team/log/", width=360, height=740)
    page.route("**/team/runs/", lambda route: route.abort())
    log(page)
    button = page.get_by_role("button", name="Log the next run")
    before = button.bounding_box()
    page.unroute("**/team/runs/")
    page.locator("#kept-heading").get_by_text("is saved").wait_for()
    page.locator("#what-it-says *").first.wait_for()
    assert button.bounding_box() == before


def test_a_killed_browser_still_has_its_runs_and_sends_them_once(
    club: Any, chromium: Any, live_server: Any, tmp_path: Any
) -> None:
    profile = str(tmp_path / "profile")

    def launch() -> Any:
        context = chromium.browser_type.launch_persistent_context(
            profile, executable_path=CHROMIUM, args=FLAGS, base_url=live_server.url, timeout=LONGEST_MS
        )
        context.set_default_timeout(LONGEST_MS)
        return context

    context = launch()
    page = context.pages[0]
    sign_in(page)
    page.goto("/team/log/")
    kept(page).get_by_text("Saved").wait_for()
    context.set_offline(True)
    for n in range(3):
        log(page, seconds=f"{40 + n}")
        page.get_by_role("button", name="Log the next run").click()
    kept(page).get_by_text("Waiting for network (3)").wait_for()
    kill_those_with(profile)
    with contextlib.suppress(Exception):  # its browser is gone
        context.close()
    assert Attempt.objects.count() == 0

    context = launch()
    page = context.pages[0]
    page.goto("/team/log/")
    if page.locator("#id_code").count():  # a session cookie may die with its browser
        sign_in(page)
        page.goto("/team/log/")
    kept(page).get_by_text("Saved").wait_for()
    assert sorted(a.duration_s for a in Attempt.objects.all()) == [40.0, 41.0, 42.0]
    context.close()


def kill_those_with(profile: str) -> None:
    """As when a battery dies: the browser of this profile, which this test has started, and its children."""
    ours = [p for p in psutil.Process().children(recursive=True) if profile in " ".join(p.cmdline())]
    assert ours
    for process in ours:
        with contextlib.suppress(psutil.NoSuchProcess):
            process.kill()


def test_another_team_on_the_same_tablet_neither_sees_nor_sends_the_first_ones_runs(
    club: Any, open_page: Callable[..., Any]
) -> None:
    club.team_b.join_code = "T34679AD"
    club.team_b.save()
    page = open_page(path="/team/")
    sign_in(page)
    page.goto("/team/log/")
    page.route("**/team/runs/", lambda route: route.abort())
    log(page)
    kept(page).get_by_text("Waiting for network (1)").wait_for()
    page.goto("/team/leave/")
    page.get_by_text("Some runs are still only on this tablet").wait_for()
    page.get_by_role("button", name="Sign out").click()
    page.unroute("**/team/runs/")
    sign_in(page, "T34679AD")
    page.goto("/team/log/")
    kept(page).get_by_text("Saved").wait_for()
    page.wait_for_timeout(500)
    assert Attempt.objects.count() == 0
    page.goto("/team/leave/")
    page.get_by_role("button", name="Sign out").click()
    sign_in(page)
    until_on(page, Attempt.objects.exists, "the run to be sent")
    kept(page).get_by_text("Saved").wait_for()
    assert Attempt.objects.get().team == club.team_a


def test_a_run_that_cannot_be_taken_stays_and_is_shown_with_its_reason(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    page.evaluate(UNCHECKED)
    answer(page, seconds="-1")
    page.get_by_role("button", name="Save this run").click()
    page.get_by_role("heading", name="This run was not taken").wait_for()
    kept(page).get_by_text("Not saved (1)").wait_for()
    page.locator("#not-saved").get_by_text("Write the time as seconds").wait_for()  # drawn after the strip
    page.reload()
    page.locator("#not-saved").get_by_text("Write the time as seconds").wait_for()
    page.get_by_role("button", name="Throw it away").click()
    page.get_by_role("button", name="Sure? Throw it away").click()
    kept(page).get_by_text("Saved").wait_for()
    assert Attempt.objects.count() == 0


def test_a_tablet_ended_by_the_coach_keeps_its_runs_and_asks_to_sign_in_again(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(path="/team/")
    sign_in(page)
    page.goto("/team/log/")
    club.team_a.tablet_sessions.update(ended_at=make.NOW)
    log(page)
    kept(page).get_by_text("Sign in again to send (1)").wait_for()
    kept(page).get_by_role("link").click()
    sign_in(page)
    kept(page).get_by_text("Saved").wait_for()
    assert Attempt.objects.count() == 1


def test_a_double_tap_on_save_is_one_run(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    answer(page)
    page.locator("#save").dblclick()
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    page.wait_for_timeout(300)
    assert Attempt.objects.count() == 1


def test_a_run_is_logged_without_script(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/", java_script_enabled=False)
    answer(page, clean=False)
    page.locator("#in-numbers > summary").click()
    page.fill("#sideways", "4")
    with page.expect_navigation():
        page.get_by_role("button", name="Save this run").click()
    assert page.get_by_role("heading", name="Not yet").is_visible()
    assert page.get_by_text("4 cm to the left").is_visible()
    assert Attempt.objects.get().lateral_mm == 40.0


def test_a_refused_run_is_put_right_in_its_place(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    page.evaluate(UNCHECKED)
    answer(page, seconds="-1")
    page.get_by_role("button", name="Save this run").click()
    page.get_by_role("heading", name="This run was not taken").wait_for()
    page.get_by_role("button", name="Put this run right").click()
    page.fill("#duration", "41")
    page.get_by_role("button", name="Save the change").click()
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    kept(page).get_by_text("Saved").wait_for()
    page.locator("#not-saved").wait_for(state="hidden")
    assert [a.duration_s for a in Attempt.objects.all()] == [41.0]


def test_a_tablet_whose_clock_is_hours_ahead_logs_runs_at_the_right_time(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(path="/team/")
    page.clock.install(time=timezone.now() + dt.timedelta(hours=3))
    sign_in(page)
    page.goto("/team/log/")
    kept(page).get_by_text("Saved").wait_for()
    page.wait_for_timeout(500)
    log(page)
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    run = Attempt.objects.get()
    assert abs(run.made_at - timezone.now()) < dt.timedelta(hours=1)
    assert run.clock_ahead_s == pytest.approx(3 * 3600, abs=600)


def test_a_run_is_told_with_its_angle_and_a_note(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    answer(page)
    page.get_by_text("Measured more?").click()
    page.fill("#angle", "7")
    page.select_option("#angle_side", "right")
    page.fill("#note", "left wheel dusty")
    page.get_by_role("button", name="Save this run").click()
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    run = Attempt.objects.get()
    assert (run.heading_error_deg, run.note) == (-7.0, "left wheel dusty")
