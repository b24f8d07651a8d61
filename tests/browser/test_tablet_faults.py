"""Twenty-four ways in which a network, a server or a tablet fails while a run is sent: each run comes in exactly once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone

from missions.models import Attempt
from tests.browser.conftest import until_on
from tests.browser.test_tablet_kept import FULL, fill_local_storage
from tests.browser.test_tablet_log import club, kept, log, sign_in

__all__ = ["club"]
pytestmark = pytest.mark.browser
RUNS = "**/team/runs/"
WIFI = "<h1>Welcome to our guest Wi-Fi</h1>"
Fault = Callable[[Any], None]


def cut(why: str) -> Fault:
    return lambda route: route.abort(why)


def says(status: int, body: str = "", kind: str = "text/html", **headers: str) -> Fault:
    return lambda route: route.fulfill(status=status, body=body, content_type=kind, headers=headers)


def saved_then(fault: Fault) -> Fault:
    """The server has taken it, and then the answer goes wrong."""

    def both(route: Any) -> None:
        route.fetch()
        fault(route)

    return both


def twice(route: Any) -> None:
    route.fetch()
    route.fulfill(response=route.fetch())


FAULTS: dict[str, Fault] = {
    "the way is cut": cut("failed"),
    "nobody listens": cut("connectionrefused"),
    "the name is not found": cut("namenotresolved"),
    "the connection is reset": cut("connectionreset"),
    "no answer in time": cut("timedout"),
    "the answer is lost after saving": saved_then(cut("connectionreset")),
    "no answer in time after saving": saved_then(cut("timedout")),
    "the answer is cut short after saving": saved_then(says(200, '{"now": "2026', "application/json")),
    "the answer is empty after saving": saved_then(says(200, "", "application/json")),
    "an answer for none of the runs": saved_then(says(200, '{"now": "x", "replies": []}', "application/json")),
    "asked to wait": says(429, "Too many", **{"Retry-After": "1"}),
    "asked to wait, not how long": says(429, "Too many"),
    "the server breaks": says(500, "Oops"),
    "the server breaks after saving": saved_then(says(500, "Oops")),
    "a proxy finds no server": says(502, "<h1>Bad gateway</h1>"),
    "the server is being mended": says(503, "", **{"Retry-After": "1"}),
    "a proxy tires of waiting after saving": saved_then(says(504, "<h1>Gateway time-out</h1>")),
    "a Wi-Fi's page in its place": says(200, WIFI),
    "a Wi-Fi's page by a redirect": says(302, "", Location="/elsewhere/"),
    "a Wi-Fi's page by its own status": says(511, WIFI),
    "sent twice": twice,
}


def network_is_back(page: Any) -> None:
    page.evaluate("dispatchEvent(new Event('online'))")


@pytest.mark.parametrize("name", FAULTS)
def test_a_run_comes_in_exactly_once_though(club: Any, open_page: Callable[..., Any], name: str) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    kept(page).get_by_text("Saved").wait_for()
    met: list[str] = []

    def fail_twice(route: Any) -> None:
        if '"items":[]' in route.request.post_data or len(met) >= 2:
            route.continue_()
            return
        met.append(name)
        FAULTS[name](route)

    page.route(RUNS, fail_twice)
    log(page, seconds="41")
    until_on(page, lambda: met, "the fault")
    network_is_back(page)
    kept(page).get_by_text("Saved").wait_for()
    page.unroute(RUNS)
    assert [run.duration_s for run in Attempt.objects.all()] == [41.0]


def test_a_page_closed_while_it_sends_has_sent_exactly_once(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    kept(page).get_by_text("Saved").wait_for()
    page.route(RUNS, lambda route: route.fetch() and None)  # taken, and never answered
    log(page, seconds="41")
    until_on(page, Attempt.objects.exists, "the server to have it")
    again = page.context.new_page()
    page.close()
    again.goto("/team/log/")
    until_on(again, lambda: "Saved" in kept(again).inner_text(), "nothing to wait any more")
    assert Attempt.objects.count() == 1


def test_two_pages_of_one_tablet_send_the_same_run_exactly_once(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    kept(page).get_by_text("Saved").wait_for()
    page.context.set_offline(True)
    log(page, seconds="41")
    kept(page).get_by_text("Waiting for network (1)").wait_for()
    page.context.set_offline(False)
    page.context.new_page().goto("/team/robot/")
    network_is_back(page)
    kept(page).get_by_text("Saved").wait_for()
    assert Attempt.objects.count() == 1


def test_a_full_tablet_with_a_wrong_clock_whose_answer_is_lost_has_sent_exactly_once(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(path="/team/")
    page.clock.install(time=timezone.now() - dt.timedelta(hours=3))
    sign_in(page)
    page.goto("/team/log/")
    page.evaluate(FULL)
    fill_local_storage(page)
    lost: list[int] = []

    def lose_one(route: Any) -> None:
        if '"items":[]' in route.request.post_data or lost:
            route.continue_()
            return
        lost.append(1)
        saved_then(cut("connectionreset"))(route)

    page.route(RUNS, lose_one)
    log(page, seconds="41")
    until_on(page, lambda: lost, "an answer to be lost")
    network_is_back(page)
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    run = Attempt.objects.get()
    assert abs(run.made_at - timezone.now()) < dt.timedelta(hours=1)
