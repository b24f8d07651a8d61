"""Nothing that a team has saved is ever lost: a full tablet, a Wi-Fi's own page, a server that asks to wait."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st

from classroom.errors import InputError
from missions.models import Attempt, Progress
from missions.runs.forms import RunForm
from missions.runs.services.record_attempt import check_plain
from tests import factories as make
from tests.browser.conftest import until_on
from tests.browser.test_tablet_log import answer, club, kept, log, sign_in

__all__ = ["club"]
pytestmark = pytest.mark.browser
RUNS = "**/team/runs/"


#: As a browser does whose disk is full: what would write is aborted, what is there can be read.
FULL = """(() => { for (const name of ["add", "put", "delete"]) IDBObjectStore.prototype[name] = function () {
  this.transaction.abort();
  throw new DOMException("The disk is full.", "QuotaExceededError");
}; })()"""


def fill_local_storage(page: Any) -> None:
    """To the last letter."""
    page.evaluate(
        """() => { let more = "x".repeat(1 << 20);
          while (more) { try { localStorage.setItem(`fill-${localStorage.length}`, more); } catch { more = more.slice(0, more.length >> 1); } } }"""
    )


def test_a_full_tablet_without_network_keeps_the_run_in_the_page_that_stays_open(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    kept(page).get_by_text("Saved").wait_for()
    page.add_init_script(FULL)
    page.reload()
    kept(page).get_by_text("This tablet is full: keep this page open", exact=False).wait_for()
    page.context.set_offline(True)
    for n in range(2):
        log(page, seconds=f"{30 + n}")
        kept(page).get_by_text(f"This tablet is full: keep this page open ({n + 1})").wait_for()
        page.get_by_role("heading", name=f"Run {n + 1} waits in this page").wait_for()
        page.get_by_role("button", name="Log the next run").click()
    page.locator("#waiting-runs li").nth(1).wait_for()  # the list is drawn after the strip
    assert page.locator("#waiting-runs li").count() == 2
    asked = []
    page.once("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
    page.evaluate("void setTimeout(() => location.assign('/team/robot/'))")
    until_on(page, lambda: asked, "to be asked before the page is left")
    assert asked == ["beforeunload"]
    page.context.set_offline(False)
    until_on(page, lambda: Attempt.objects.count() == 2, "both runs to come in")
    until_on(page, lambda: kept(page).inner_text().endswith("keep this page open"), "nothing more to wait")
    assert sorted(run.duration_s for run in Attempt.objects.all()) == [30.0, 31.0]


def test_a_full_tablet_with_network_saves_without_leaving_the_page(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    page.evaluate(FULL)
    log(page)
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    page.get_by_role("button", name="Put this run right").click()
    page.fill("#duration", "41")
    page.get_by_role("button", name="Save the change").click()
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    assert [run.duration_s for run in Attempt.objects.standing()] == [41.0]


def test_what_storage_can_no_longer_forget_is_sent_once(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    page.route(RUNS, lambda route: route.abort())
    log(page)
    kept(page).get_by_text("Waiting for network (1)").wait_for()
    page.evaluate(FULL)
    page.unroute(RUNS)
    page.evaluate("dispatchEvent(new Event('online'))")
    until_on(page, lambda: kept(page).inner_text().endswith("keep this page open"), "nothing more to wait")
    page.reload()
    kept(page).get_by_text("Saved").wait_for()
    assert Attempt.objects.count() == 1


def test_a_full_small_storage_holds_up_neither_runs_nor_the_check_of_a_course(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    kept(page).get_by_text("Saved").wait_for()
    fill_local_storage(page)
    log(page)
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    kept(page).get_by_text("Saved").wait_for()
    page.goto("/team/course/")
    page.get_by_role("button", name="Drive", exact=True).click()
    page.get_by_role("heading", name="Numbers to type").wait_for()


def test_runs_that_wait_are_listed_by_number_and_put_right_before_they_are_sent(
    club: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    kept(page).get_by_text("Saved").wait_for()
    page.route(RUNS, lambda route: route.abort())
    for n in range(3):
        log(page, seconds=f"{30 + n}.5")
        page.get_by_role("button", name="Log the next run").click()
    kept(page).get_by_text("Waiting for network (3)").wait_for()
    page.reload()
    page.locator("#waiting-runs").get_by_text("Run 2 of").wait_for()
    until_on(page, lambda: page.inner_text("#run-number") == "4", "the next run to be the fourth")
    page.get_by_role("button", name="Put run 2 right").click()
    assert page.input_value("#duration") == "31.5"
    page.fill("#duration", "41")
    page.get_by_role("button", name="Save the change").click()
    page.locator("#waiting-runs").get_by_text("41 s").wait_for()
    page.get_by_role("button", name="Take run 3 back").click()
    page.locator("#waiting-runs").get_by_text("It is taken back.").wait_for()
    assert Attempt.objects.count() == 0
    page.unroute(RUNS)
    page.evaluate("dispatchEvent(new Event('online'))")
    kept(page).get_by_text("Saved").wait_for()
    assert sorted(run.duration_s for run in Attempt.objects.standing()) == [30.5, 41.0]
    page.locator("#waiting-runs").wait_for(state="hidden")


def test_a_server_that_asks_to_wait_is_asked_again_when_it_said(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    kept(page).get_by_text("Saved").wait_for()
    asked: list[str] = []

    def refuse(route: Any) -> None:
        asked.append(route.request.url)
        route.fulfill(status=429, headers={"Retry-After": "3600"}, body="Too many")

    page.route(RUNS, refuse)
    log(page)
    kept(page).get_by_text("Asked to wait a little, then sends (1)").wait_for()
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_timeout(2500)
    assert len(asked) == 1, "not before the time is over"
    page.unroute(RUNS)
    page.reload()
    kept(page).get_by_text("Saved").wait_for()
    assert Attempt.objects.count() == 1


@pytest.mark.parametrize(
    ("answer_with", "words"),
    [
        ({"status": 500, "body": "Oops"}, "The club's computer has trouble: tried again (1)"),
        ({"status": 503, "headers": {"Retry-After": "1"}, "body": ""}, "The club's computer has trouble: tried again (1)"),
        ({"status": 200, "content_type": "text/html", "body": "<h1>Welcome to our guest Wi-Fi</h1>"}, "Sign in to the Wi-Fi to send (1)"),
        ({"status": 302, "headers": {"Location": "/elsewhere/"}, "body": ""}, "Sign in to the Wi-Fi to send (1)"),
        ({"status": 511, "content_type": "text/html", "body": "<h1>Sign in</h1>"}, "Sign in to the Wi-Fi to send (1)"),
    ],
)  # fmt: skip
def test_who_did_not_take_the_run_is_said_in_words_of_its_own(
    club: Any, open_page: Callable[..., Any], answer_with: dict[str, Any], words: str
) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    kept(page).get_by_text("Saved").wait_for()
    page.route(RUNS, lambda route: route.fulfill(**answer_with))
    log(page)
    kept(page).get_by_text(words).wait_for()
    page.unroute(RUNS)
    kept(page).get_by_text("Saved").wait_for()
    assert Attempt.objects.count() == 1


@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        ("duration", "-1", "Write the time as seconds"),
        ("duration", "2 hours", "Write the time as seconds"),
        ("duration", "0", "more than 0 seconds"),
        ("sideways", "four hands", "Write a number"),
        ("along", "600", "more than 5 m away"),
        ("angle", "200", "half way round"),
    ],
)
def test_what_would_be_refused_is_said_before_the_run_is_kept(
    club: Any, open_page: Callable[..., Any], field: str, text: str, words: str
) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    answer(page)
    page.get_by_text("Measured more?").click()
    page.locator("#in-numbers > summary").click()
    page.fill(f"#{field}", text)
    page.get_by_role("button", name="Save this run").click()
    page.get_by_role("alert").get_by_text(words).wait_for()
    assert page.evaluate("document.activeElement.id") == field
    page.fill(f"#{field}", "4")
    assert page.locator("#wrong-words").count() == 0
    page.get_by_role("button", name="Save this run").click()
    page.get_by_role("heading", name="Run 1 is saved").wait_for()


def test_a_timed_run_without_its_time_is_asked_for_it(club: Any, open_page: Callable[..., Any]) -> None:
    edition = club.tier.versions.get()
    edition.time_limit_s = 60
    edition.save()
    page = open_page(club.as_team_a, "/team/log/")
    answer(page, seconds="")
    page.get_by_role("button", name="Save this run").click()
    page.get_by_role("alert").get_by_text("This tier is against the clock").wait_for()
    page.fill("#duration", "41")
    page.get_by_role("button", name="Save this run").click()
    page.get_by_role("heading", name="Run 1 is saved").wait_for()


def test_no_text_that_the_tablet_lets_through_is_refused_by_the_server(
    club: Any, open_page: Callable[..., Any]
) -> None:
    """The same words through both, drawn from what people and cats type."""
    page = open_page(club.as_team_a, "/team/log/")
    pieces = [
        "1",
        "0",
        "12",
        "3",
        "60",
        "359",
        ".",
        ",",
        ":",
        " ",
        "-",
        "+",
        "−",
        "/",
        "½",
        "cm",
        "in",
        "ft",
        "m",
        "°",
        "deg",
        "x",
        '"',
    ]
    texts = st.lists(st.sampled_from(pieces), min_size=1, max_size=5).map("".join)
    drawn: set[str] = {"12,5", "1,250", "26 1/2 in", "1/0", "5 m", "501 cm", "3600", "60:00", "59:60", "180°", ".5"}

    @settings(max_examples=400, database=None)
    @given(texts)
    def draw(text: str) -> None:
        drawn.add(text)

    draw()
    passed = page.evaluate(
        """async (texts) => {
          const { firstWrong } = await import("/static/planning/team/checks.js");
          const form = document.getElementById("run-form");
          const passed = [];
          for (const name of ["duration", "sideways", "angle"]) for (const text of texts) {
            form.reset();
            form.elements[name].value = text;
            if (!firstWrong(form)) passed.push([name, form.elements[name].value]);
          }
          return passed;
        }""",
        sorted(drawn),
    )
    assert {name for name, _ in passed} == {"duration", "sideways", "angle"}
    assert len(passed) > 50
    for name, text in passed:
        told = {"uuid": "0198d1f6-5f6b-7000-8000-000000000000", "tier": 1, "outcome_done": "no", name: text}
        try:
            check_plain(RunForm(told, unit="cm", now=timezone.now()).run(), timezone.now())
        except InputError as error:
            pytest.fail(f"{name} {text!r}: {error.message}")


def test_what_is_refused_all_the_same_is_put_right_from_the_list(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    page.evaluate(
        "document.querySelector('#duration').removeAttribute('data-check')"
    )  # a rule that this tablet has not
    answer(page, seconds="-1")
    page.get_by_role("button", name="Save this run").click()
    page.get_by_role("heading", name="This run was not taken").wait_for()
    page.reload()
    page.locator("#not-saved").get_by_text("Write the time as seconds").wait_for()
    page.get_by_role("button", name="Put run 1 right").click()
    assert page.locator(".pick.yes input:checked").count() == page.locator(".ask").count()
    page.fill("#duration", "41")
    page.get_by_role("button", name="Save the change").click()
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    kept(page).get_by_text("Saved").wait_for()
    assert [run.duration_s for run in Attempt.objects.all()] == [41.0]


def test_a_clock_three_hours_slow_is_put_right_without_a_first_answer(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(path="/team/")
    page.clock.install(time=timezone.now() - dt.timedelta(hours=3))
    sign_in(page)
    page.route(RUNS, lambda route: route.abort())
    page.goto("/team/log/")
    page.evaluate("localStorage.clear()")
    log(page)
    kept(page).get_by_text("Waiting for network (1)").wait_for()
    page.unroute(RUNS)
    page.evaluate("dispatchEvent(new Event('online'))")
    page.get_by_role("heading", name="Run 1 is saved").wait_for()
    run = Attempt.objects.get()
    assert abs(run.made_at - timezone.now()) < dt.timedelta(hours=1)
    assert run.clock_ahead_s == pytest.approx(-3 * 3600, abs=600)


def test_a_closed_tier_refuses_the_run_in_words_and_nothing_is_lost(club: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(club.as_team_a, "/team/log/")
    Progress.objects.filter(team=club.team_a).delete()
    log(page)
    page.get_by_role("heading", name="This run was not taken").wait_for()
    page.locator("#not-saved").get_by_text("Ask your coach to open it").wait_for()
    make.ProgressFactory(team=club.team_a, tier=club.tier)
    page.get_by_role("button", name="Send it again").click()
    until_on(page, Attempt.objects.exists, "the run to be saved")
    kept(page).get_by_text("Saved").wait_for()


def test_a_press_that_began_before_the_list_was_looked_at_again_is_heard(
    club: Any, open_page: Callable[..., Any]
) -> None:
    """The finger is down while the tablet asks once more; that changes nothing on the list, and the button is still there."""
    page = open_page(club.as_team_a, "/team/log/")
    Progress.objects.filter(team=club.team_a).delete()
    log(page)
    page.locator("#not-saved").get_by_text("Ask your coach to open it").wait_for()
    make.ProgressFactory(team=club.team_a, tier=club.tier)
    again = page.get_by_role("button", name="Send it again")
    again.hover()
    page.mouse.down()
    with page.expect_response(RUNS):
        page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_timeout(500)  # so that the list has been looked at
    page.mouse.up()
    until_on(page, Attempt.objects.exists, "the run to be saved")
