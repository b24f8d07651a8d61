"""Today, the rota, the term and the set-up sheets in a real browser."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from classroom.models import Attendance
from missions.day.services.plan_rota import solve_rota
from missions.day.services.run_session import write_note
from missions.models import QuickNote, RotaTurn, SessionRun, TeamDay
from planning.jobs.services.run_job import run_job
from planning.models import Job
from tests import factories as make
from tests.browser.conftest import until_on
from tests.browser.day_world import STEPS, an_afternoon


@pytest.fixture
def day(site):
    site.world = an_afternoon(site)
    return site


@pytest.fixture
def planned(day):
    session = day.world.session
    solve_rota(session, now=session.starts_at)
    return day


def test_a_tap_marks_a_child_without_a_reload_and_the_focus_stays(day, open_page):
    page = open_page(day.as_coach, "/today/", width=820, touch=True)
    page.evaluate("window.stayed = true")
    child = page.locator(f"#child-{day.member_a.pk}")
    child.tap()
    page.wait_for_selector(f"#child-{day.member_a.pk}.is-here")
    assert Attendance.objects.get(member=day.member_a).present
    assert page.evaluate("window.stayed") is True
    assert page.evaluate("document.activeElement.id") == f"child-{day.member_a.pk}"


def test_one_press_marks_a_whole_team_as_here(day, open_page):
    page = open_page(day.as_coach, "/today/")
    team = day.team_a
    page.locator(f"#all-{team.pk}").click()
    page.wait_for_selector(f"#child-{day.member_a.pk}.is-here")
    assert Attendance.objects.get(member=day.member_a).present
    assert page.locator(f"#all-{team.pk}").count() == 0


def test_attendance_comes_first_until_everybody_is_marked_and_is_one_line_then(planned, open_page, axe_clean):
    page = open_page(planned.as_coach, "/today/", width=360, touch=True)
    who, tables = page.locator("#who"), page.locator(".at-tables")
    assert who.bounding_box()["y"] < tables.bounding_box()["y"]
    all_here = page.locator("#who button[id^=all-]")
    while all_here.count() > 1:
        before = all_here.count()
        all_here.first.tap()
        all_here.nth(before - 1).wait_for(state="detached")
    assert who.get_attribute("open") is not None
    all_here.tap()
    page.wait_for_selector("#who:not([open])")
    assert page.evaluate("document.activeElement.textContent").strip().startswith("Who is here")
    assert who.bounding_box()["height"] < 60
    axe_clean(page)
    page.keyboard.press("Enter")
    page.locator(f"#child-{planned.member_a.pk}").wait_for()
    write_note(planned.world.session, planned.assistant, "Hinge taped.", None, now=timezone.now())
    page.get_by_text("Hinge taped.").wait_for()
    assert page.locator(f"#child-{planned.member_a.pk}").is_visible()


def test_a_press_that_is_refused_says_so_on_the_page(day, open_page):
    """The session was cancelled for good in another window; the press is answered in words, not by silence."""
    page = open_page(day.as_coach, "/today/")
    day.world.session.delete()
    page.locator(f"#child-{day.member_a.pk}").click()
    said = page.get_by_role("alert")
    said.wait_for()
    assert "Nothing here" in said.inner_text()


def test_a_press_that_nobody_answers_says_so_on_the_page(day, open_page):
    page = open_page(day.as_coach, "/today/")
    page.route("**/attendance/", lambda route: route.abort())
    page.locator(f"#child-{day.member_a.pk}").click()
    said = page.get_by_role("alert")
    said.wait_for()
    assert "no answer" in said.inner_text().lower()
    assert not Attendance.objects.exists()


def test_an_answer_is_seen_though_the_page_has_asked_by_itself_meanwhile(day, open_page):
    """What the page asks for each two seconds must not put away the place that the answer to a press goes to."""
    page = open_page(day.as_coach, "/today/")
    held = []
    page.route("**/rota/solve/", lambda route: held.append(route))
    page.get_by_role("button", name="Plan the rota").click()
    with page.expect_response(lambda answer: answer.request.method == "GET" and answer.status == 200):
        write_note(day.world.session, day.assistant, "Hinge taped.", None, now=timezone.now())
    page.wait_for_timeout(300)  # what was answered would stand in the page by now
    (held_back,) = held
    held_back.continue_()
    page.wait_for_selector(".rota-grid")
    assert page.locator("#messages").inner_text() == "The rota is planned."
    page.get_by_text("Hinge taped.").wait_for()


def test_a_press_that_is_never_answered_does_not_hold_the_page_for_ever(day, open_page):
    page = open_page(day.as_coach, "/today/")
    held = []
    page.route("**/rota/solve/", lambda route: held.append(route))
    page.get_by_role("button", name="Plan the rota").click()
    until_on(page, lambda: held, "the press to be on its way")
    page.evaluate("() => { const now = Date.now; Date.now = () => now() + 21000; }")
    write_note(day.world.session, day.assistant, "Hinge taped.", None, now=timezone.now())
    page.get_by_text("Hinge taped.").wait_for()


def test_a_press_is_heard_though_news_come_between_the_fingers_going_down_and_up(day, open_page):
    """What is drawn anew meanwhile has another button in the place of the one that is pressed."""
    page = open_page(day.as_coach, "/today/")
    page.get_by_role("button", name="Plan the rota").hover()
    page.mouse.down()
    with page.expect_response(lambda answer: answer.request.method == "GET" and answer.status == 200):
        write_note(day.world.session, day.assistant, "Hinge taped.", None, now=timezone.now())
    page.wait_for_timeout(300)  # what was answered would stand in the page by now
    page.mouse.up()
    page.wait_for_selector(".rota-grid")
    page.get_by_text("Hinge taped.").wait_for()


def test_planning_fills_the_tables_on_the_page(day, open_page):
    page = open_page(day.as_coach, "/today/")
    page.get_by_role("button", name="Plan the rota").click()
    page.wait_for_selector(".rota-grid")
    assert page.locator("#messages").inner_text() == "The rota is planned."
    names = page.locator(".team-next").all_inner_texts()
    assert len(names) == 3 and "nobody" not in names


def test_a_good_rota_stands_at_once_and_a_better_one_takes_its_place_when_it_is_found(day, open_page):
    page = open_page(day.as_coach, "/today/")
    page.get_by_role("button", name="Plan the rota").click()
    page.get_by_text("a better one is being looked for").wait_for()
    assert RotaTurn.objects.exists() and page.locator(".rota-grid").count() == 1
    found = Job.objects.get(kind="best_rota")
    run_job(found.pk)
    page.get_by_text("The best rota that was found is in place").or_(
        page.get_by_text("the fewest there can be")
    ).first.wait_for()
    goals = {goal["name"]: goal for goal in SessionRun.objects.get(session=day.world.session).goals}
    assert goals["empty"]["value"] == goals["empty"]["bound"] and goals["uneven"]["value"] == goals["uneven"]["bound"]


def test_each_warning_of_the_rota_stands_at_its_place(day, open_page, axe_clean):
    """Heron's robot is in repair, Knot has none, and one table is too small for the mission."""
    heron = next(team for team in day.world.teams if team.name == "Heron")
    robot = heron.assignments.get().robot
    robot.state = "in_repair"
    robot.save()
    small = day.world.tables[2]
    small.width_mm = 900
    small.save()
    page = open_page(day.as_coach, "/today/")
    page.get_by_role("button", name="Plan the rota").click()
    page.wait_for_selector(".rota-grid")
    who = page.locator(".who-team")
    assert f"Heron\u2019s {robot} is in repair: lend another." in who.filter(has_text="Heron").inner_text()
    assert "Knot has no robot: lend one." in who.filter(has_text="Knot").inner_text()
    table = page.locator(".at-table").filter(has=page.get_by_role("heading", name=small.name))
    assert "Table C is too small for Tide gate." in table.inner_text()
    assert not RotaTurn.objects.filter(team=heron).exists() and not RotaTurn.objects.filter(table=small).exists()
    page.get_by_text("twice in a row: why").click()
    assert "Curlew: any other team would need the table laid anew." in page.locator("#twice").inner_text()
    axe_clean(page)


def test_a_plan_of_a_session_is_kept_once_and_the_clock_starts_by_a_press(day, open_page, axe_clean):
    session = day.world.session
    SessionRun.objects.filter(session=session).update(started_at=None)
    page = open_page(day.as_coach, f"/term/{session.term_id}/plan/")
    axe_clean(page)
    page.get_by_label("Minutes of part 1", exact=True).fill("7")
    page.get_by_role("button", name="Keep for the term").click()
    page.get_by_text("Every session of this term now has these parts.").wait_for()
    page.goto("/today/")
    assert page.locator(".clock-part").inner_text().split() == ["first", "Welcome", "and", "cautions"]
    page.get_by_role("button", name="Start the session").click()
    page.locator(".clock-part", has_text="left").wait_for()
    said = page.locator(".clock-part").inner_text()
    assert "Welcome and cautions" in said and "next" in said and "Story and talk" in said
    axe_clean(page)
    page.goto(f"/session/{session.pk}/wall/")
    assert page.get_by_role("heading", level=1).inner_text() == "Welcome and cautions"
    assert "Story and talk" in page.locator(".wall-part").inner_text()


def test_a_team_passes_a_job_on_with_a_tap_on_its_tablet(day, open_page, axe_clean):
    make.MembershipFactory(team=day.team_a, member__nickname="Wren")
    page = open_page(day.as_team_a, "/team/mission/", width=820, touch=True)
    driver = page.locator(".team-jobs button", has_text="sets the robot down")
    before = driver.locator("b").inner_text()
    driver.tap()
    page.get_by_text("has that job now").wait_for()
    assert page.locator(".team-jobs button", has_text="sets the robot down").locator("b").inner_text() != before
    axe_clean(page)
    page.get_by_role("button", name="As it goes round").tap()
    page.get_by_text("The jobs go round again.").wait_for()
    assert page.locator(".team-jobs button", has_text="sets the robot down").locator("b").inner_text() == before


def is_poll(request) -> bool:
    """Asked by the live part for itself; a page with a first good rota also asks once, by a form, for a better one."""
    return bool(request.headers.get("hx-request")) and "/rota/" not in request.url and not request.redirected_from


def test_what_another_coach_does_appears_by_itself_and_a_quiet_page_asks_for_nothing_new(planned, open_page):
    page = open_page(planned.as_coach, "/today/")
    answers = []
    page.on("response", lambda r: answers.append(r.status) if is_poll(r.request) else None)
    until_on(page, lambda: len(answers) >= 2, "the page to ask twice")
    assert set(answers) == {304}
    write_note(planned.world.session, planned.assistant, "Hinge taped.", None, now=timezone.now())
    page.get_by_text("Hinge taped.").wait_for()
    assert "Up to date at" in page.locator("[data-live-at]").inner_text()


def test_refreshing_can_be_paused(planned, open_page):
    page = open_page(planned.as_coach, "/today/")
    page.get_by_role("button", name="Pause refreshing").click()
    asked = []
    page.on("request", lambda r: asked.append(r.url) if is_poll(r) else None)
    page.wait_for_timeout(4600)
    assert asked == []
    page.get_by_role("button", name="Pause refreshing").click()
    until_on(page, lambda: asked, "the page to ask again")


def test_what_is_unfolded_stays_unfolded_when_the_page_refreshes(planned, open_page):
    page = open_page(planned.as_coach, "/today/")
    team = planned.world.teams[2]
    page.locator(f"#more-{team.pk} > summary").click()
    write_note(planned.world.session, planned.assistant, "Hinge taped.", None, now=timezone.now())
    page.get_by_text("Hinge taped.").wait_for()
    assert page.locator(f"#more-{team.pk}").get_attribute("open") is not None


def test_a_late_team_is_entered_by_keys_alone(planned, open_page):
    page = open_page(planned.as_coach, "/today/")
    team = planned.world.teams[3]
    page.locator(f"#more-{team.pk} > summary").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "5\xa0min"
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=are expected at")
    assert TeamDay.objects.get(team=team).late_until is not None


def test_a_note_is_kept_and_its_field_is_empty_again(planned, open_page):
    page = open_page(planned.as_coach, "/today/")
    page.get_by_label("What happened").fill("Gate hinge works loose")
    page.get_by_role("button", name="Note it").click()
    page.locator(".note-list", has_text="Gate hinge works loose").wait_for()
    assert page.get_by_label("What happened").input_value() == ""
    assert QuickNote.objects.get().text == "Gate hinge works loose"


def test_the_clock_counts_down_and_is_not_announced(planned, open_page):
    page = open_page(planned.as_coach, "/today/")
    clock = page.locator("[data-until]")
    page.wait_for_function("document.querySelector('[data-until]').textContent.includes('left')")
    first = clock.inner_text()
    assert re.match(r"\d+:\d\d left", first)
    until_on(page, lambda: clock.inner_text() != first, "the clock to move on")
    assert page.evaluate("document.querySelector('[data-until]').closest('[aria-live], [role=status]')") is None


def test_all_of_today_works_without_script(day, open_page):
    page = open_page(day.as_coach, "/today/", java_script_enabled=False)
    page.locator(f"#child-{day.member_a.pk}").click()
    assert Attendance.objects.get(member=day.member_a).present
    with page.expect_navigation():
        page.get_by_role("button", name="Plan the rota").click()
    assert page.locator(".rota-grid").is_visible()
    page.get_by_role("link", name="Rota", exact=True).click()
    page.locator("a.cell").last.click()
    with page.expect_navigation():
        page.get_by_role("button", name="Keep this place free").click()
    assert RotaTurn.objects.filter(team=None, by_hand=True).count() == 1


def test_a_turn_moved_by_hand_stays_after_planning_again(planned, open_page):
    session = planned.world.session
    row = RotaTurn.objects.filter(session=session, slot=8).first()
    page = open_page(planned.as_coach, f"{reverse('rota', args=[session.pk])}?slot=8&table={row.table_id}")
    free = page.get_by_role("button", name="Keep this place free")
    free.click()
    page.get_by_role("button", name="Plan again from now").click()
    page.wait_for_selector("text=The rota is planned.")
    kept = RotaTurn.objects.get(session=session, slot=8, table=row.table_id)
    assert kept.team is None and kept.by_hand


def test_sessions_are_added_for_the_rest_of_the_term(day, open_page):
    term = day.world.term
    page = open_page(day.as_coach, reverse("term_of", args=[term.pk]))
    first = term.ends_on.replace(day=1)
    page.get_by_label("Date").fill(first.isoformat())
    page.get_by_label("From").fill("10:00")
    page.get_by_label("To").fill("11:00")
    page.get_by_label("Every week until the term ends").check()
    page.get_by_role("button", name="Add", exact=True).click()
    expect(page.locator("#messages")).to_contain_text("added")
    assert page.locator(".line-when", has_text="10:00 to 11:00").count() >= 1


PAGES = {
    "today": lambda w: "/today/",
    "rota": lambda w: f"{reverse('rota', args=[w.session.pk])}?slot=8&table={w.tables[0].pk}",
    "wall": lambda w: reverse("session_wall", args=[w.session.pk]),
    "tables": lambda w: reverse("tables"),
    "table": lambda w: reverse("table", args=[w.tables[0].pk]),
    "term": lambda w: "/term/",
    "term's dates": lambda w: reverse("term_edit", args=[w.term.pk]),
    "session": lambda w: reverse("session_edit", args=[w.session.pk]),
    "pictures": lambda w: reverse("term_progress", args=[w.term.pk]),
    "set-up sheets": lambda w: reverse("setup_sheets", args=[w.mission.pk]),
}


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_nothing_on_any_of_these_pages(planned, open_page, axe_clean, dark):
    page = open_page(planned.as_coach, PAGES["today"](planned.world), dark=dark)
    for address in PAGES.values():
        page.goto(address(planned.world))
        if "today" in page.url:
            page.locator(".more > summary").first.click()
            page.locator(".card-list summary").first.click()
        axe_clean(page)


@pytest.mark.parametrize("width", [320, 820, 1920])
def test_nothing_needs_sideways_scrolling(planned, open_page, width):
    page = open_page(planned.as_coach, PAGES["today"](planned.world), width=width)
    for name, address in PAGES.items():
        page.goto(address(planned.world))
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, name


def test_an_observer_finds_no_button_that_would_be_refused(planned, open_page):
    for name in ("today", "rota", "term", "wall", "tables"):
        page = open_page(planned.as_observer, PAGES[name](planned.world))
        assert page.locator("main form").count() == 0, name
        page.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("much", [False, True], ids=["usual", "much to say"])
def test_each_set_up_sheet_is_one_page(planned, open_page, paper, much):
    world = planned.world
    if much:
        edition = world.tiers[0].version
        edition.setup_steps = [f"{step} Check it again before the next team comes." for step in STEPS * 3]
        edition.safety_notes = "Keep fingers away from the hinge while a robot is on its way. " * 3
        edition.save()
        bank = world.tiers[1].obstacles[0]
        world.tiers[1].obstacles = [
            {"name": f"bank {n}", "outline": [[x + 60 * n, y - 50 * n] for x, y in bank["outline"]]} for n in range(5)
        ]
        world.tiers[1].save()
    page = open_page(planned.as_coach, reverse("setup_sheets", args=[world.mission.pk]))
    sheets = page.locator(".sheet").count()
    pdf = page.pdf(format=paper)
    assert sheets == 3
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == sheets
