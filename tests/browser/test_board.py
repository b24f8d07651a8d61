"""The readiness board as a coach meets it: live, by keyboard, down to the evidence."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from missions.models import Progress
from missions.readiness.services.evidence import refresh_evidence
from missions.runs.services.record_attempt import AttemptInput, record_attempt
from tests import factories as make

YES = {"left_base": True, "done": True, "home": True}


@pytest.fixture
def ladder(site):
    """Curlew ready on the plain tier, Plover stuck on it."""
    now = timezone.now()
    _, editions = make.mission_with_tiers(site.club, published_at=now - dt.timedelta(days=60))
    site.robot_a.changed_at = now - dt.timedelta(days=60)
    site.robot_a.save()
    for team, success in ((site.team_a, True), (site.team_b, False)):
        progress = make.ProgressFactory(team=team, tier=editions[0].tier, opened_at=now - dt.timedelta(days=20))
        for i in range(14):
            at = now - dt.timedelta(days=7 if i < 7 else 1, minutes=20 - i)
            make.AttemptFactory(
                team=team,
                tier_version=editions[0],
                success=success,
                made_at=at,
                robot=site.robot_a if success else None,
                lateral_mm=8.0 * i - 50,
                along_mm=3.0 * i - 20,
                duration_s=40 + i,
            )
        refresh_evidence(progress, now)
    site.editions = editions
    site.mission = editions[0].version.mission
    return site


def cell(site, team, rung):
    return f"#cell-{team.pk}-{site.editions[rung].tier_id}"


def log(site, team, rung, success=True):
    outcomes = YES if success else YES | {"done": False}
    now = timezone.now()
    run = AttemptInput(uuid.uuid4(), site.editions[rung].tier_id, now, 40.0, outcomes)
    return record_attempt(team, run, now=now)


def test_a_run_logged_elsewhere_appears_on_the_board_which_asks_every_two_seconds(ladder, open_page):
    page = open_page(ladder.as_coach, "/")
    expect(page.get_by_text("12 of the last 12", exact=True)).to_be_visible()
    assert "every 2s" in page.locator("#board").get_attribute("hx-trigger")
    page.evaluate("document.body.dataset.same = 'yes'")
    log(ladder, ladder.team_a, 0, success=False)
    expect(page.get_by_text("11 of the last 12", exact=True)).to_be_visible()
    assert page.evaluate("document.body.dataset.same") == "yes", "the page was loaded again"


def test_the_board_says_when_it_last_asked_and_can_be_paused(ladder, open_page):
    page = open_page(ladder.as_coach, "/")
    expect(page.locator("[data-live-at]")).to_contain_text("Up to date at")
    page.get_by_role("button", name="Pause refreshing").click()
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    log(ladder, ladder.team_a, 0, success=False)
    page.wait_for_timeout(2600)
    assert asked == []
    expect(page.get_by_text("12 of the last 12", exact=True)).to_be_visible()
    page.get_by_role("button", name="Pause refreshing").click()
    expect(page.get_by_text("11 of the last 12", exact=True)).to_be_visible()


def test_the_next_tier_is_opened_by_keyboard_with_a_reason(ladder, open_page):
    page = open_page(ladder.as_coach, "/")
    page.locator(cell(ladder, ladder.team_a, 1)).focus()
    page.keyboard.press("Enter")
    dialogue = page.get_by_role("dialog")
    expect(dialogue).to_contain_text("12 of the last 12")
    expect(dialogue.get_by_label("Reason")).to_be_focused()
    page.keyboard.type("Steady on both tables")
    expect(dialogue.get_by_label("Mark “Plain route” as passed as well")).to_be_checked()
    dialogue.get_by_role("button", name="Open for Curlew").focus()
    page.keyboard.press("Enter")

    expect(dialogue).to_be_hidden()
    opened = page.locator(cell(ladder, ladder.team_a, 1))
    expect(opened).to_contain_text("Too few runs to tell")
    expect(opened).to_be_focused()
    expect(page.locator(cell(ladder, ladder.team_a, 0))).to_contain_text("Passed")
    expect(page.locator("#messages")).to_contain_text("is open for Curlew now")
    progress = Progress.objects.get(team=ladder.team_a, tier=ladder.editions[1].tier)
    assert progress.changes.get().reason == "Steady on both tables"


def test_opening_against_the_rule_asks_for_a_reason_in_the_dialogue(ladder, open_page):
    page = open_page(ladder.as_coach, "/")
    against = page.get_by_role("link", name="Open all the same")
    assert not against.is_visible(), "what goes against the rule is one press away"
    page.locator(cell(ladder, ladder.team_b, 1)).press("Enter")
    against.click()
    dialogue = page.get_by_role("dialog")
    expect(dialogue).to_contain_text("goes against what the rule says")
    dialogue.get_by_role("button", name="Open for Plover").click()
    expect(dialogue.get_by_role("alert")).to_be_visible()
    dialogue.get_by_role("link", name="Cancel").click()
    expect(dialogue).to_be_hidden()
    expect(against).to_be_focused()
    assert Progress.objects.filter(team=ladder.team_b).count() == 1


@pytest.mark.parametrize("width", [360, 820])
def test_who_needs_the_coach_comes_first_on_a_small_screen(ladder, open_page, width):
    page = open_page(ladder.as_coach, "/", width=width)
    needs, board = page.locator(".needs").bounding_box(), page.locator(".board-table").bounding_box()
    assert needs["y"] + needs["height"] <= board["y"]


def test_one_button_is_filled_and_what_a_row_says_stands_on_one_line_under_it(ladder, open_page):
    ready_too = make.TeamFactory(club=ladder.club, name="Sanderling", order=5)
    progress = make.ProgressFactory(
        team=ready_too, tier=ladder.editions[0].tier, opened_at=timezone.now() - dt.timedelta(days=20)
    )
    for i in range(14):
        at = timezone.now() - dt.timedelta(days=7 if i < 7 else 1, minutes=20 - i)
        make.AttemptFactory(team=ready_too, tier_version=ladder.editions[0], made_at=at, success=True)
    refresh_evidence(progress, timezone.now())
    page = open_page(ladder.as_coach, "/", width=1280)
    opens = page.locator(".cell-act .go")
    expect(opens).to_have_count(2)
    card, *filled = opens.evaluate_all(
        "all => ['', ...all].map((one, i) => getComputedStyle(i ? one : document.querySelector('.card')).backgroundColor)"
    )
    assert sum(colour != card for colour in filled) == 1
    lines = page.locator(".whys p").evaluate_all("all => all.map(one => one.getBoundingClientRect().height)")
    assert len(lines) == 3 and max(lines) < 30


def test_arrow_keys_go_from_cell_to_cell_and_focus_outlives_a_refresh(ladder, open_page):
    page = open_page(ladder.as_coach, "/")
    page.locator(cell(ladder, ladder.team_a, 0)).focus()
    page.keyboard.press("ArrowDown")
    expect(page.locator(cell(ladder, ladder.team_b, 0))).to_be_focused()
    page.keyboard.press("ArrowRight")
    expect(page.locator(cell(ladder, ladder.team_b, 1))).to_be_focused()
    page.keyboard.press("Home")
    log(ladder, ladder.team_a, 0, success=False)
    expect(page.get_by_text("11 of the last 12", exact=True)).to_be_visible()
    expect(page.locator(cell(ladder, ladder.team_b, 0))).to_be_focused()


def test_one_tap_leads_to_the_runs_the_rule_and_the_decisions(ladder, open_page):
    page = open_page(ladder.as_coach, "/")
    page.locator(cell(ladder, ladder.team_a, 0)).click()
    expect(page.get_by_role("heading", name="Curlew · Plain route")).to_be_visible()
    expect(page.locator(".runs-table tbody tr:not(.runs-with)")).to_have_count(14)
    expect(page.locator(".runs-with")).to_have_count(1)  # all of one robot, one calibration and no plan
    expect(page.locator(".plot circle.y")).to_have_count(14)
    expect(page.get_by_text("at least 90 % sure")).to_be_visible()
    page.get_by_role("link", name="Take out").first.click()
    page.get_by_role("dialog").get_by_role("button", name="Take it out").click()
    expect(page.locator(".runs-table tr.gone")).to_have_count(1)
    expect(page.locator(".plot circle.y")).to_have_count(13)


def test_a_team_is_held_back_and_let_go_on_its_evidence_page(ladder, open_page):
    page = open_page(ladder.as_coach, reverse("evidence", args=[ladder.team_a.pk, ladder.editions[0].tier_id]))
    page.get_by_role("link", name="Hold back").click()
    page.get_by_role("dialog").get_by_label("Reason").fill("Only the smooth table so far")
    page.get_by_role("dialog").get_by_role("button", name="Hold back").click()
    expect(page.locator("#evidence .chip.held")).to_be_visible()
    expect(page.locator(".changes")).to_contain_text("Only the smooth table so far")
    expect(page.locator(".changes")).to_contain_text("Against the rule")
    page.get_by_role("link", name="Let them go on").click()
    page.get_by_role("dialog").get_by_label("Reason").fill("Both tables now")
    page.get_by_role("dialog").get_by_role("button", name="Back to work").click()
    expect(page.locator("#evidence .chip.ready")).to_be_visible()


def test_without_script_a_decision_is_a_page_of_its_own(ladder, open_page):
    page = open_page(ladder.as_coach, "/", java_script_enabled=False)
    page.locator(cell(ladder, ladder.team_a, 1)).click()
    page.get_by_role("button", name="Open for Curlew").click()
    expect(page.locator(".notice.success")).to_contain_text("is open for Curlew now")


def test_an_earlier_day_is_shown_as_it_was(ladder, open_page):
    page = open_page(ladder.as_coach, "/")
    day = (timezone.localdate() - dt.timedelta(days=3)).isoformat()
    page.get_by_label("What the board said on").fill(day)
    page.get_by_role("button", name="Show that day").click()
    expect(page.get_by_text("This is what the board said at the end of")).to_be_visible()
    expect(page.locator(cell(ladder, ladder.team_a, 0))).to_contain_text("Working")
    expect(page.get_by_text("7 of the last 7", exact=True)).to_be_visible()


def test_a_bar_says_what_it_would_mean_while_it_is_typed(ladder, open_page):
    page = open_page(ladder.as_coach, reverse("tier_bar", args=[ladder.editions[0].tier_id]))
    expect(page.locator("#bar-words")).to_contain_text("over 65 %")
    page.get_by_label("Share of clean runs to show").press_sequentially("90")
    expect(page.locator("#bar-words")).to_contain_text("over 90 %")
    expect(page.locator("#bar-words")).to_contain_text("What it would then say")
    page.get_by_label("Why").fill("The show is next week")
    page.get_by_role("button", name="Set the bar").click()
    expect(page.locator(".notice.success")).to_contain_text("Every team was looked at anew")
    expect(page.locator(cell(ladder, ladder.team_a, 0))).to_contain_text("Working")


def test_a_missions_page_shows_each_tiers_map(ladder, open_page):
    page = open_page(ladder.as_coach, reverse("missions"))
    page.get_by_role("link", name=ladder.mission.title, exact=True).click()
    expect(page.locator("svg.chart")).to_be_visible()
    page.get_by_role("link", name="2 · With obstacle").click()
    expect(page.get_by_text("gravel bank in the way")).to_be_visible()


@pytest.mark.parametrize("dark", [False, True])
def test_readiness_is_accessible(ladder, open_page, axe_clean, dark):
    tier = ladder.editions[0].tier_id
    page = open_page(ladder.as_coach, "/", dark=dark)
    for path in (
        "/",
        reverse("evidence", args=[ladder.team_b.pk, tier]),
        reverse("projector", args=[ladder.mission.pk]),
        reverse("decide", args=[ladder.team_b.pk, ladder.editions[1].tier_id, "open"]),
        reverse("tier_bar", args=[tier]),
        reverse("missions"),
        reverse("mission", args=[ladder.mission.pk]),
    ):
        page.goto(path)
        axe_clean(page)
    axe_clean(open_page(ladder.as_nobody, "/", dark=dark))
    page.goto("/")
    page.locator(cell(ladder, ladder.team_a, 1)).click()
    expect(page.get_by_role("dialog")).to_be_visible()
    axe_clean(page)


@pytest.mark.parametrize("name", ["board", "evidence", "projector", "missions", "mission", "tier_bar"])
def test_nothing_scrolls_sideways_on_a_small_phone(ladder, open_page, name):
    tier = ladder.editions[0].tier_id
    args = {
        "evidence": [ladder.team_b.pk, tier],
        "projector": [ladder.mission.pk],
        "mission": [ladder.mission.pk],
        "tier_bar": [tier],
    }
    page = open_page(ladder.as_coach, reverse(name, args=args.get(name, [])), width=320, height=640)
    assert page.evaluate("document.documentElement.scrollWidth") <= 320


def test_a_phone_stacks_the_runs_and_nothing_of_them_scrolls_away(ladder, open_page):
    path = reverse("evidence", args=[ladder.team_b.pk, ladder.editions[0].tier_id])
    page = open_page(ladder.as_coach, path, width=360, height=740)
    expect(page.get_by_role("row")).to_have_count(
        16
    )  # a table all the same, to those who hear it: its head, one robot, 14 runs
    assert page.eval_on_selector(".runs-table", "e => e.scrollWidth") <= 360


def test_on_a_phone_a_run_is_taken_out_once_that_is_wanted(ladder, open_page, axe_clean):
    path = reverse("evidence", args=[ladder.team_b.pk, ladder.editions[0].tier_id])
    page = open_page(ladder.as_coach, path, width=360, height=740)
    take_out = page.get_by_role("link", name="Take out")
    expect(take_out).to_have_count(0)
    page.locator("#taking > summary").press("Enter")
    expect(take_out).to_have_count(14)
    axe_clean(page)
    take_out.first.click()
    page.get_by_role("dialog").get_by_role("button", name="Take it out").click()
    expect(page.locator(".runs-table tr.gone")).to_have_count(1)


OVERLAPS = """() => { const box = one => one.getBoundingClientRect();
  const dots = [...document.querySelectorAll('.plot g :is(circle, path)')].map(box);
  const letters = [...document.querySelectorAll('.plot text')];
  const lies = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
  return [dots.length, letters.filter(one => dots.some(dot => lies(box(one), dot))).map(one => one.textContent.trim()),
    letters.filter(a => letters.some(b => a !== b && lies(box(a), box(b)))).map(one => one.textContent.trim())]; }"""


@pytest.mark.parametrize("width", [360, 1280])
def test_letters_of_the_plot_of_landings_lie_on_no_landing(ladder, open_page, width):
    path = reverse("evidence", args=[ladder.team_b.pk, ladder.editions[0].tier_id])
    page = open_page(ladder.as_coach, path, width=width)
    assert page.evaluate(OVERLAPS) == [14, [], []]


def test_a_new_clubs_clock_is_asked_for_by_city_with_the_browsers_offered(site, open_page, axe_clean):
    page = open_page(site.as_coach, "/", timezone_id="America/Montevideo")
    expect(page.get_by_label("Whose clock does the club go by?")).to_have_value("America/Montevideo")
    axe_clean(page)
    page.get_by_role("button", name="This is our clock").click()
    page.get_by_text("The club goes by that clock now.").wait_for()
    site.club.refresh_from_db()
    assert site.club.time_zone == "America/Montevideo"
    assert page.get_by_label("Whose clock does the club go by?").count() == 0


@pytest.fixture
def large(ladder):
    """Two dozen teams; Plover, the second in table order, is stuck, and the last has no robot."""
    stuck = Progress.objects.filter(team=ladder.team_b)
    stuck.update(answer="look", answer_kind="stuck", why="No clean run in the last 14.", last_run_at=timezone.now())
    for number in range(22):
        team = make.TeamFactory(club=ladder.club, name=f"Wader {number + 1}", order=number + 10)
        make.ProgressFactory(team=team, tier=ladder.editions[0].tier, opened_at=timezone.now())
        if number < 21:
            robot = make.RobotFactory(club=ladder.club)
            make.RobotAssignmentFactory(team=team, robot=robot)
            make.CalibrationFactory(robot=robot)
    return ladder


def test_two_dozen_teams_stand_on_a_laptops_screen_with_one_line_each_who_needs_the_coach_first(
    large, open_page, axe_clean
):
    page = open_page(large.as_coach, "/", width=1280, height=800)
    lines = page.locator(".board-table tbody tr.line")
    expect(lines).to_have_count(24)
    bottom = lines.last.bounding_box()
    assert bottom["y"] + bottom["height"] <= 800
    heights = lines.evaluate_all("rows => rows.map(row => row.getBoundingClientRect().height)")
    assert max(heights) < 30
    names = lines.locator(".toggle").all_inner_texts()
    assert names[0] == "Plover" and "stuck" in lines.first.inner_text()
    assert names.index("Curlew") < names.index("Wader 22") < names.index("Wader 1"), "ready, then without a robot"
    axe_clean(page)


def test_a_line_opens_by_keyboard_to_all_that_the_board_shows_and_stays_open_while_it_refreshes(large, open_page):
    page = open_page(large.as_coach, "/")
    line = page.locator(f"#row-{large.team_b.pk}")
    line.focus()
    page.keyboard.press("Space")
    page.locator(f"#row-{large.team_b.pk}[aria-expanded=true]").wait_for()
    assert page.evaluate("document.activeElement.id") == f"row-{large.team_b.pk}"
    row = page.locator("tr", has=page.locator(f"#row-{large.team_b.pk}"))
    expect(page.locator(".why")).to_have_count(1)
    log(large, large.team_b, 0)
    expect(row.locator(".strip")).to_have_count(1)
    page.wait_for_timeout(2500)
    assert page.locator(f"#row-{large.team_b.pk}").get_attribute("aria-expanded") == "true"
    page.keyboard.press("Enter")
    page.locator(f"#row-{large.team_b.pk}[aria-expanded=false]").wait_for()


def test_a_line_opens_without_script_too(large, open_page):
    page = open_page(large.as_coach, "/", java_script_enabled=False)
    page.locator(f"#row-{large.team_b.pk}").click()
    assert page.locator(f"#row-{large.team_b.pk}").get_attribute("aria-expanded") == "true"
