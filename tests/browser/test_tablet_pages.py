"""Every page of the tablet on every screen it is held on: fits, can be hit, can be told apart, is clean for axe."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone

from classroom.access import TeamSeat
from classroom.models import SafetyCard, TabletSession
from classroom.robots.services.calibrate import record_calibration
from missions.models import Attempt
from planning.team.draft import DraftStep, TeamDraft, first_start
from planning.team.services.keep_draft import keep_draft
from tests import factories as make
from tests.browser.conftest import until_on

pytestmark = pytest.mark.browser

SCREENS = [(360, 740), (820, 1180), (1180, 820)]
CLEAR = [("drive", 118), ("turn", 45), ("drive", 51), ("turn", -45), ("push", 10), ("drive", -12)]
CLEAR += [("turn", -135), ("drive", 51), ("turn", -45), ("drive", 100)]
PAGES = {
    "mission": "/team/mission/",
    "course": "/team/course/",
    "plan": "/team/course/{plan}/",
    "compare": "/team/course/compare/?a={plan}&b={other}",
    "survey": "/team/survey/",
    "log": "/team/log/",
    "run": "/team/log/{run}/",
    "change": "/team/log/{run}/change/",
    "robot": "/team/robot/",
    "straight": "/team/robot/straight/",
    "square": "/team/robot/square/",
    "by pictures": "/team/picture/robot/set_down/",
    "outline": "/team/robot/outline/",
    "leave": "/team/leave/",
}


@pytest.fixture
def full(site: Any) -> Any:
    """A team with everything: two plans, runs that miss to one side, a measured robot, safety cards."""
    _, editions = make.mission_with_tiers(
        site.club,
        did_you_know="A tide gate opens by itself at low water.",
        questions=["What did you measure twice?"],
        setup_steps=["Tape the gate's posts to the table."],
        safety_notes="Stop it before you touch the wheels.",
    )
    make.ProgressFactory(team=site.team_a, tier=editions[0].tier, state="passed")
    make.ProgressFactory(team=site.team_a, tier=editions[1].tier)
    SafetyCard.objects.create(club=site.club, subject="Pinch points", text="Switch off before touching gears.")
    measured = [{"commanded_mm": 1000, "measured_mm": 1003 + d} for d in (1, 2, 1, 0)]
    record_calibration(site.robot_a, "straight", "table", measured, by_team=site.team_a, now=timezone.now())
    seat = TeamSeat(site.team_a, TabletSession.objects.get(team=site.team_a))
    kept = []
    for steps in (CLEAR, CLEAR[:3]):
        draft = TeamDraft(first_start(editions[1]), tuple(DraftStep(*each) for each in steps))
        base = len(kept)
        kept.append(keep_draft(seat, editions[1], site.robot_a, draft, base=base, now=timezone.now()))
    for i in range(5):
        last = make.AttemptFactory(
            team=site.team_a,
            tier_version=editions[1],
            robot=site.robot_a,
            calibration=kept[0].calibration,
            plan_number=1,
            success=i == 1,
            lateral_mm=3.0 * i,
            along_mm=70.0 + i,
            duration_s=38.2 + i,
            cause="" if i == 1 else "too_long",
            made_at=timezone.now() - dt.timedelta(minutes=30 - i),
        )
    site.names = {"plan": kept[0].pk, "other": kept[1].pk, "run": last.uuid}
    return site


def path(full: Any, name: str) -> str:
    return PAGES[name].format(**full.names)


@pytest.mark.parametrize("status", [400, 413])
def test_what_the_server_cannot_read_at_all_stays_here_and_says_so(
    full: Any, open_page: Callable[..., Any], status: int
) -> None:
    page = open_page(full.as_team_a, "/team/log/", width=360, height=740)
    before = Attempt.objects.count()
    page.route("**/team/runs/", lambda route: route.fulfill(status=status, json={"code": "x", "words": "x"}))
    page.fill("#duration", "38.2")
    for label in page.locator(".pick.no").all():
        label.click()
    page.locator("#in-numbers > summary").click()
    page.fill("#sideways", "3.5")
    page.get_by_role("button", name="Save this run").click()
    page.locator("#kept").get_by_text("Not saved (1): load this page again").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.unroute("**/team/runs/")
    full.club.unit = "in"
    full.club.save()
    page.reload()
    page.locator("#kept").get_by_text("✓ Saved").wait_for()
    assert Attempt.objects.count() == before + 1
    assert abs(Attempt.objects.latest("pk").lateral_mm) == 35.0, "in the unit of the page that it was typed on"


def test_no_page_scrolls_sideways_on_any_screen(full: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(full.as_team_a, "/team/mission/")
    wide = []
    for width, height in [*SCREENS, (320, 640)]:
        page.set_viewport_size({"width": width, "height": height})
        for name in PAGES:
            page.goto(path(full, name))
            if page.evaluate("document.documentElement.scrollWidth") > width:
                wide.append((name, width, page.evaluate("document.documentElement.scrollWidth")))
    assert wide == []


SMALL = """() => [...document.querySelectorAll('button, a.btn, a.chip, nav a, summary, select, input, .plans a, .runs a, .measure')]
  .filter(e => e.offsetParent && e.type !== 'hidden' && getComputedStyle(e).visibility !== 'hidden')
  .map(e => e.closest('label.tick') ?? e) // a tick is pressed anywhere in its label
  .map(e => { const b = e.getBoundingClientRect(); return [e.outerHTML.slice(0, 90), Math.round(b.width), Math.round(b.height)]; })
  .filter(([, w, h]) => h < 47.5 || w < 47.5)"""


def test_every_target_is_48_pixels_and_more(full: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(full.as_team_a, "/team/mission/", width=360, height=740)
    small = {}
    for name in PAGES:
        page.goto(path(full, name))
        page.wait_for_timeout(150)
        if found := page.evaluate(SMALL):
            small[name] = found
    assert small == {}


UNDER_THE_BAR = """() => { const bar = document.querySelector('.team-bar').getBoundingClientRect();
  return [...document.querySelectorAll('main button, main a, main input, main select, .doors a')].filter(e => e.offsetParent)
    .map(e => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
    .filter(([, b]) => b.top < bar.bottom && b.bottom > bar.top).map(([words]) => words); }"""


@pytest.mark.parametrize("language", ["en", "es", "de"])
def test_the_bar_is_one_row_on_a_phone_and_lies_over_nothing(
    full: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None], language: str
) -> None:
    full.club.language = language
    full.club.save()
    page = open_page(full.as_team_a, path(full, "log"), width=360, height=740)
    page.locator("#kept .chip.ready").wait_for()
    bar = page.locator(".team-bar")
    assert bar.bounding_box()["height"] <= 60
    name = page.locator(".team-name")
    assert name.evaluate("one => one.scrollWidth <= one.clientWidth"), "a short name is whole"
    assert page.evaluate(UNDER_THE_BAR) == []
    page.context.set_offline(True)
    page.locator(".pick.yes").first.wait_for()
    for answer in page.locator(".pick.yes").all():
        answer.click()
    page.locator("#save").click()
    page.locator("#kept .chip.help").wait_for()
    assert bar.bounding_box()["height"] <= 60, "what is wrong has the name's room, not a second row"
    axe_clean(page)


def test_one_way_says_where_and_numbers_are_one_press_away(full: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(full.as_team_a, path(full, "log"), width=360, height=740)
    page.get_by_role("button", name="◀ left").click()
    page.get_by_role("button", name="far ▲").click()
    assert page.locator("#pad-words").inner_text() == "1 cm to the left, 1 cm too far"
    assert not page.locator("#sideways").is_visible()
    page.locator("#in-numbers > summary").press("Enter")
    assert page.locator("#sideways").input_value() == "1"
    cut = """() => [...document.querySelectorAll('main select, main button')].filter(e => e.offsetParent && e.tagName === 'SELECT'
      ? (() => { const s = document.createElement('span'); s.style.font = getComputedStyle(e).font; s.textContent = e.selectedOptions[0].textContent.trim();
          document.body.append(s); const wide = s.getBoundingClientRect().width; s.remove(); return wide > e.clientWidth - 24; })()
      : e.offsetParent && e.scrollWidth > e.clientWidth + 1).map(e => e.outerHTML.slice(0, 90))"""
    assert page.evaluate(cut) == []


@pytest.mark.parametrize("dark", [False, True])
def test_axe_finds_nothing_on_any_page(
    full: Any, open_page: Callable[..., Any], axe_clean: Callable[[Any], None], dark: bool
) -> None:
    page = open_page(full.as_team_a, "/team/mission/", width=820, height=1180, dark=dark)
    for name in PAGES:
        page.goto(path(full, name))
        page.wait_for_timeout(200)
        axe_clean(page)
    axe_clean(open_page(path="/team/", dark=dark))


def test_states_are_told_apart_without_colour(full: Any, open_page: Callable[..., Any]) -> None:
    page = open_page(full.as_team_a, "/team/log/")
    for name in PAGES:
        page.goto(path(full, name))
        page.wait_for_timeout(150)
        for chip in page.locator(".chip").all():
            shape = chip.locator("[aria-hidden]").all_inner_texts()
            words = chip.inner_text().replace("".join(shape), "").strip()
            assert words, "a state without a word"
            assert shape or words in ("new", "Shown by your coach"), f"a state without a shape: {words}"
    page.goto("/team/log/")
    page.locator(".pick.yes").nth(0).click()
    page.locator(".pick.no").nth(1).click()
    border = "e => getComputedStyle(e).borderTopStyle"
    yes = page.locator(".pick.yes input:checked + span")
    no = page.locator(".pick.no input:checked + span")
    assert (yes.evaluate(border), no.evaluate(border)) == ("solid", "dashed")
    assert (yes.inner_text().split(), no.inner_text().split()) == (["✓", "Yes"], ["✗", "No"])


FILL = """async ([team, tier, count]) => {
  const queue = await import("/static/site/queue.js");
  const { uuid7 } = await import("/static/site/queue.js");
  const db = await new Promise((resolve) => {
    const open = indexedDB.open("helmroom-tablet", 1);
    open.onsuccess = () => resolve(open.result);
  });
  await queue.counts(team);
  await new Promise((resolve, reject) => {
    const work = db.transaction("items", "readwrite");
    const store = work.objectStore("items");
    for (let i = 0; i < count; i++) {
      const item = { do: "log", uuid: uuid7(), made_at: new Date().toISOString(), tier, duration: "40",
        outcome_left_base: "yes", outcome_done: "no", outcome_home: "no" };
      store.add({ uuid: item.uuid, team, item, state: "waiting", tried: false });
    }
    work.oncomplete = resolve;
    work.onerror = reject;
  });
}"""


def fill_queue(page: Any, team: int, tier: int, count: int) -> None:
    """So many runs in the tablet's queue, as if they had been logged without network."""
    page.evaluate(FILL, [team, tier, count])


def test_ten_thousand_queued_runs_neither_hang_the_page_nor_flood_the_server(
    full: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(full.as_team_a, "/team/robot/")
    sizes: list[int] = []
    let_through: set[str] = set()
    held = []

    def hold(route: Any) -> None:
        items = route.request.post_data_json["items"]
        sizes.append(len(items))
        if len(sizes) > 3:
            held.append(route)
            return
        let_through.update(item["uuid"] for item in items)  # a part that is slow to be answered is sent again
        route.continue_()

    tier = Attempt.objects.first().tier_id
    fill_queue(page, full.team_a.pk, tier, 10_000)
    page.route("**/team/runs/", hold)
    page.goto("/team/log/")
    page.locator("#kept").get_by_text("Sending (9").wait_for()
    page.get_by_role("button", name="Start", exact=True).click()
    until_on(page, lambda: len(sizes) >= 4, "four parts to be sent")
    assert max(sizes) <= 40
    runs = Attempt.objects.filter(team=full.team_a, duration_s=40)
    until_on(page, lambda: runs.count() == len(let_through), "the three parts that were let through")
    for route in held:
        route.abort()
    page.unroute_all()


def test_hundreds_of_refused_runs_are_kept_counted_and_shown_a_few_at_a_time(
    full: Any, open_page: Callable[..., Any]
) -> None:
    page = open_page(full.as_team_a, "/team/robot/")
    fill_queue(page, full.team_a.pk, 999_999, 300)
    page.goto("/team/log/")
    page.locator("#kept").get_by_text("Not saved (300)").wait_for()
    page.get_by_text("And 280 more.").wait_for()
    assert page.locator("#not-saved li").count() == 20
    page.get_by_role("button", name="Throw it away").first.click()
    page.get_by_role("button", name="Sure? Throw it away").click()
    page.get_by_text("And 279 more.").wait_for()


def test_where_there_is_https_pages_open_without_network_and_for_one_team_only(
    full: Any, open_page: Callable[..., Any]
) -> None:
    """localhost counts as a secure context, so the worker is at work here as it would be behind HTTPS."""
    page = open_page(full.as_team_a, "/team/robot/")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    keeps = (
        "() => Promise.all(['/team/log/', '/team/mission/', '/static/site/queue.js'].map((each) => caches.match(each)))"
        ".then((found) => found.filter(Boolean).length)"
    )
    until_on(page, lambda: page.evaluate(keeps) == 3, "the pages to be kept")
    page.context.set_offline(True)
    page.goto("/team/log/")
    page.locator("#start-stop").wait_for()
    page.get_by_role("button", name="Save this run").wait_for()
    page.goto("/team/mission/")
    page.get_by_role("heading", name="What there is to do").wait_for()
    page.context.set_offline(False)
    page.goto("/team/leave/")
    page.get_by_role("button", name="Sign out").click()
    page.locator("#id_code").wait_for()
    gone = "() => caches.match('/team/log/').then((found) => !found)"
    until_on(page, lambda: page.evaluate(gone), "the pages to be forgotten")
    page.context.set_offline(True)
    with pytest.raises(Exception, match="ERR_"):
        page.goto("/team/log/")
    page.context.set_offline(False)
