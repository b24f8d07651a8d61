"""A team draws its own course: what is read, what is said of it, what is kept when two tablets draw."""

from __future__ import annotations

import datetime as dt
import json
import re
import time
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from classroom.access import TeamSeat
from classroom.errors import ConflictError, InputError
from classroom.models import RobotLoan, TabletSession
from classroom.robots.numbers import numbers_for
from classroom.robots.services.calibrate import record_calibration
from planning.courses.pages.card import card_of
from planning.courses.plan_today import plan_today
from planning.courses.services.check_draft import check_draft
from planning.models import Course
from planning.team.draft import DraftStep, TeamDraft, draft_actions, draft_of, first_start, read_draft
from planning.team.pages.plan import plan_page
from planning.team.services.keep_draft import keep_draft
from tests import factories as make
from tests.pages import page_of

pytestmark = pytest.mark.django_db

#: A course over the factory's table that is clear, in whole centimetres and degrees.
CLEAR = [
    ("drive", 118),
    ("turn", 45),
    ("drive", 51),
    ("turn", -45),
    ("push", 10),
    ("drive", -12),
    ("turn", -135),
    ("drive", 51),
    ("turn", -45),
    ("drive", 100),
]


def draft_json(steps: list[tuple[str, Any]]) -> str:
    return json.dumps({"start": None, "steps": [{"do": do, "n": n} for do, n in steps]})


@pytest.fixture
def edition(cast: Any) -> Any:
    _, editions = make.mission_with_tiers(cast.club)
    make.ProgressFactory(team=cast.team_a, tier=editions[1].tier)
    return editions[1]


@pytest.fixture
def seat(cast: Any) -> TeamSeat:
    return TeamSeat(cast.team_a, TabletSession.objects.get(team=cast.team_a))


def send(cast: Any, steps: list[tuple[str, Any]], **more: Any) -> Any:
    return cast.as_team_a.post("/team/course/", {"draft": draft_json(steps), "do": "check", "base": 0} | more)


def test_a_clear_course_is_called_clear_with_what_its_chance_rests_on(cast: Any, edition: Any) -> None:
    page = page_of(send(cast, CLEAR))
    assert "Clear</span>" in page
    assert "in 100 runs should work" in page
    assert "all of it is a kit&#x27;s usual, so take this as a guess" in page
    assert "Room" in page
    assert not re.search(r"<p[^>]*>\s*\d+\s*</p>", page)  # no bare number where a sentence belongs


def test_a_course_through_the_bank_says_so_on_the_map_and_hides_the_answer_in_a_ladder(cast: Any, edition: Any) -> None:
    into = [("drive", 60), ("turn", 40), ("drive", 90)]
    page = page_of(send(cast, into))
    assert "Touches</span>" in page
    assert "chart-touch" in page
    before, ladder = page.split('data-hint="1"', 1)
    assert "gravel bank" not in before.split('id="says"')[1]
    what, rest = ladder.split('data-hint="2"')
    step, size = rest.split('data-hint="3"')
    assert "touches the gravel bank" in what and "step 3" not in what
    assert "step 3: Drive" in step and "By about" not in step.split("<p>")[1]
    assert " cm" in size.split("</details>")[0]


def test_a_half_drawn_course_is_not_finished_rather_than_wrong(cast: Any, edition: Any) -> None:
    page = page_of(send(cast, [("drive", 60)]))
    assert "Not finished" in page
    assert "Touches</span>" not in page


def test_an_ending_hint_speaks_the_clubs_unit(cast: Any, edition: Any) -> None:
    page = page_of(send(cast, [*CLEAR[:4], ("push", 4)]))
    assert "Not finished" in page
    assert " mm" not in page.split('data-hint="3"')[1].split("</details>")[0]


NASTY_DRAFTS = {
    "brackets": "[" * 300_000,
    "a long number": '{"steps": [{"do": "drive", "n": ' + "9" * 200_000 + "}]}",
    "steps without end": json.dumps({"steps": [{"do": "drive", "n": 1}] * 20_000}),
    "no number": '{"steps": [{"do": "drive", "n": NaN}]}',
    "a list for a word": json.dumps({"steps": [{"do": ["drive"], "n": 1}]}),
    "a start beyond all": '{"steps": [], "start": {"x_mm": 1e999, "y_mm": 0, "heading_deg": 0}}',
    "a push backwards": json.dumps({"steps": [{"do": "push", "n": -9}]}),
    "to the moon": json.dumps({"steps": [{"do": "drive", "n": 5000}] * 40}),
}


@pytest.mark.parametrize("what", NASTY_DRAFTS)
def test_whatever_is_wrong_with_a_draft_is_said_soon(cast: Any, edition: Any, what: str) -> None:
    began = time.process_time()
    response = cast.as_team_a.post("/team/course/", {"draft": NASTY_DRAFTS[what], "do": "check", "base": 0})
    if what == "a start beyond all":  # this mission has a start of its own, which wins
        assert response.status_code == 200
    else:
        assert response.status_code == 422
        assert 'class="notice error"' in page_of(response)
    assert time.process_time() - began < 10, "seconds of processor time; the longest takes a tenth of that"


def test_the_longest_draft_that_is_read_is_checked_soon(cast: Any, edition: Any) -> None:
    began = time.process_time()
    page = page_of(send(cast, [*[("turn", 5000), ("turn", -5000)] * 19, ("drive", 1), ("push", 1)]))
    assert "Touches</span>" in page or "Not finished" in page
    assert time.process_time() - began < 10, "seconds of processor time"


def step_hint(response: Any) -> str:
    return page_of(response).split('data-hint="2"')[1].split("<p>")[1].split("</p>")[0]


@pytest.mark.parametrize(
    ("steps", "hint"),
    [
        (CLEAR[:4], "Your 4 steps may all be good. What is missing comes after step 4."),
        (CLEAR[:1], "Your step may be good. What is missing comes after it."),
        (CLEAR[:6], "Your 6 steps may all be good. What is missing comes after step 6."),
        ([*CLEAR[:2], ("turn", 0), *CLEAR[2:]], "Look at step 3."),
        # What spoils the push lies before it: the leg or the turn at fault is named, not the push.
        ([*CLEAR[:2], ("drive", 40), *CLEAR[3:6]], "Look at step 3. With another number there alone, the push counts."),
        ([*CLEAR[:3], ("turn", -33), *CLEAR[4:6]], "Look at step 4. With another number there alone, the push counts."),
        ([*CLEAR[:4], ("push", 4), *CLEAR[5:6]], "Look at step 5. With another number there alone, the push counts."),
    ],
)
def test_a_hint_names_a_step_only_when_that_step_is_at_fault(cast: Any, edition: Any, steps: Any, hint: str) -> None:
    assert step_hint(send(cast, steps)) == hint


def test_two_faults_are_laid_on_no_single_step(cast: Any, edition: Any) -> None:
    both = [*CLEAR[:3], ("turn", -20), ("push", 3)]
    assert step_hint(send(cast, both)).startswith("It is not one step alone.")


def test_the_fragment_holds_the_map_and_the_verdict_and_no_page(cast: Any, edition: Any) -> None:
    page = page_of(
        cast.as_team_a.post("/team/course/", {"draft": draft_json(CLEAR), "do": "check"}, headers={"X-Part": "yes"})
    )
    assert 'data-into="map"' in page and 'data-into="says"' in page
    assert "<html" not in page


def test_numbers_to_type_follow_the_robots_own_yaw(cast: Any, edition: Any) -> None:
    robot = cast.robot_a
    robot.yaw_sense = "cw"
    robot.save()
    page = page_of(send(cast, [("turn", 46)]))
    assert "Turn left 46°" in page
    assert "<b>-46°</b>" in page


def test_the_form_without_script_draws_the_same_course(cast: Any, edition: Any) -> None:
    words = {("drive", True): "back", ("turn", False): "left", ("turn", True): "right"}
    rows = {}
    for i, (do, n) in enumerate(CLEAR):
        rows |= {f"do-{i}": words.get((do, n < 0), do), f"n-{i}": str(abs(n))}
    page = page_of(cast.as_team_a.post("/team/course/", rows | {"do": "check", "base": "0"}))
    assert "Clear</span>" in page


@pytest.mark.parametrize(
    "draft",
    [
        "",
        "nonsense",
        "[]",
        "[" * 50_000,
        '{"steps": 3}',
        '{"steps": [{"do": "fly", "n": 1}]}',
        '{"steps": [{"do": "drive", "n": 1.5}]}',
        '{"steps": [{"do": "drive", "n": true}]}',
        '{"steps": [{"do": "drive", "n": 1e400}]}',
        '{"steps": [{"do": "push", "n": -3}]}',
        '{"steps": [{"do": "drive", "n": 5000}]}',
        draft_json([("drive", 1)] * 41),
    ],
)
def test_a_draft_that_cannot_be_is_refused_in_words(cast: Any, edition: Any, draft: str) -> None:
    got = cast.as_team_a.post("/team/course/", {"draft": draft, "do": "check"})
    assert got.status_code == 422
    assert 'role="alert"' in page_of(got)


def test_a_start_off_the_table_is_refused_where_the_team_chooses_it(cast: Any, edition: Any) -> None:
    edition.version.start = None
    edition.version.save()
    away = {"draft": json.dumps({"start": {"x_mm": -50, "y_mm": 1, "heading_deg": 0}, "steps": []})}
    with pytest.raises(InputError) as refused:
        read_draft(away, cast.robot_a, edition)
    assert refused.value.code == "start_off_table"
    there = {"draft": json.dumps({"start": {"x_mm": 200, "y_mm": 150, "heading_deg": 90}, "steps": []})}
    assert read_draft(there, cast.robot_a, edition).start.heading_deg == 90.0


def test_where_the_mission_fixes_the_start_a_tablet_cannot_move_it(cast: Any, edition: Any) -> None:
    moved = {"draft": json.dumps({"start": {"x_mm": 900, "y_mm": 900, "heading_deg": 9}, "steps": []})}
    assert read_draft(moved, cast.robot_a, edition).start == first_start(edition)


def test_keeping_makes_numbered_plans_and_drawing_on_gets_the_same_numbers_back(
    cast: Any, edition: Any, seat: TeamSeat
) -> None:
    runs = [{"commanded_mm": 1000, "measured_mm": 1000 * s} for s in (1.028, 1.03, 1.031, 1.029, 1.03)]
    record_calibration(cast.robot_a, "straight", "table", runs, by_team=cast.team_a, now=timezone.now())
    draft = TeamDraft(first_start(edition), tuple(DraftStep(*each) for each in CLEAR))
    course = keep_draft(seat, edition, cast.robot_a, draft, base=0, now=timezone.now())
    assert course.number == 1
    assert course.actions[0]["distance_mm"] == pytest.approx(1180 * 1.0296, rel=1e-4)
    assert draft_of(course, cast.robot_a, numbers_for(cast.robot_a)) == draft


def test_of_two_tablets_the_second_is_told_and_neither_loses_its_work(cast: Any, edition: Any, seat: TeamSeat) -> None:
    one = send(cast, CLEAR, do="keep")
    assert one.url == f"/team/course/{Course.objects.get().pk}/"
    other = [*CLEAR[:-1], ("drive", 99)]
    told = send(cast, other, do="keep")
    page = page_of(told)
    assert told.status_code == 409
    assert "kept plan 1 on another tablet" in page
    assert '"n\\u0022: 99' in page or "&quot;n&quot;: 99" in page
    kept = send(cast, other, do="keep", base=1)
    assert kept.status_code == 302
    assert [c.number for c in Course.objects.order_by("number")] == [1, 2]


def test_a_tablet_that_is_still_drawing_hears_of_the_newer_plan(cast: Any, edition: Any) -> None:
    send(cast, CLEAR, do="keep")
    assert "Your team kept plan 1 on another tablet" in page_of(send(cast, CLEAR[:3]))


def test_keeping_twice_by_a_double_tap_is_one_plan(cast: Any, edition: Any, seat: TeamSeat) -> None:
    draft = TeamDraft(first_start(edition), tuple(DraftStep(*each) for each in CLEAR))
    first = keep_draft(seat, edition, cast.robot_a, draft, base=0, now=timezone.now())
    assert keep_draft(seat, edition, cast.robot_a, draft, base=0, now=timezone.now()) == first
    with pytest.raises(ConflictError):
        shorter = TeamDraft(draft.start, draft.steps[:-1])
        keep_draft(seat, edition, cast.robot_a, shorter, base=0, now=timezone.now())


def test_an_empty_draft_is_not_kept(cast: Any, edition: Any) -> None:
    assert send(cast, [], do="keep").status_code == 422
    assert Course.objects.count() == 0


def test_two_plans_are_compared_in_words(cast: Any, edition: Any) -> None:
    send(cast, CLEAR, do="keep")
    send(cast, [*CLEAR[:-1], ("drive", 130)], do="keep", base=1)
    a, b = Course.objects.order_by("number")
    page = page_of(cast.as_team_a.get(f"/team/course/compare/?a={a.pk}&b={b.pk}"))
    assert "Plan 1 is clear, plan 2 is not." in page
    assert "quicker than plan 2" in page
    assert "Step 10: drive 100 cm in plan 1, drive 130 cm in plan 2." in page


def test_plans_that_differ_in_many_steps_say_in_which(cast: Any, edition: Any) -> None:
    send(cast, CLEAR, do="keep")
    send(cast, [(do, n + (1 if n > 0 else -1)) for do, n in CLEAR], do="keep", base=1)
    a, b = Course.objects.order_by("number")
    page = page_of(cast.as_team_a.get(f"/team/course/compare/?a={a.pk}&b={b.pk}"))
    assert "Other numbers in step 1, 2, 3, 4, 5, 6, 7, 8, 9, 10." in page
    assert page.count('class="changed"') == 20


SHORT = [{"commanded_mm": 1000, "measured_mm": 1000 * s} for s in (0.962, 0.965, 0.963, 0.964, 0.966)]


def kept_before_measuring(cast: Any, edition: Any, seat: TeamSeat) -> tuple[TeamDraft, Course]:
    draft = TeamDraft(first_start(edition), tuple(DraftStep(*each) for each in CLEAR))
    plan = keep_draft(seat, edition, cast.robot_a, draft, base=0, now=timezone.now())
    record_calibration(cast.robot_a, "straight", "table", SHORT, by_team=cast.team_a, now=timezone.now())
    return draft, Course.objects.for_cards().get(pk=plan.pk)


def test_a_team_s_numbers_stay_its_own_after_measuring_on_the_tablet_and_on_the_coach_s_card(
    cast: Any, edition: Any, seat: TeamSeat
) -> None:
    draft, plan = kept_before_measuring(cast, edition, seat)
    page, card = plan_page(seat, plan), card_of(plan)
    assert draft_of(plan, cast.robot_a, numbers_for(cast.robot_a)) == draft
    told = [row.distance for row in page["rows"]]
    assert told == [row.distance for row in card.rows] and told[0] == "118 cm"
    assert page["check"] == card.check and page["moved"]
    asked = check_draft(cast.team_a, edition, cast.robot_a, draft.start, draft_actions(draft, cast.robot_a))
    assert page["check"].poses == asked.poses, "what is predicted is predicted for what is shown"


def test_numbers_are_put_right_for_a_measuring_when_the_team_says_so(cast: Any, edition: Any, seat: TeamSeat) -> None:
    draft, plan = kept_before_measuring(cast, edition, seat)
    link = f"/team/course/?tier={edition.tier_id}&from={plan.pk}&right=1"
    for path in ("/team/course/", f"/team/course/{plan.pk}/"):
        assert link.replace("&", "&amp;") in page_of(cast.as_team_a.get(path))
    page = cast.as_team_a.get(link)
    right = page.context["draft"]
    assert right.steps[0].n == round(118 / 0.964) != draft.steps[0].n
    assert "Put the numbers right" not in page_of(page)
    assert cast.as_team_a.get("/team/course/").context["draft"] == draft


def test_a_planner_s_plan_is_put_right_by_itself_on_the_tablet_and_on_the_coach_s_card(
    cast: Any, edition: Any, seat: TeamSeat
) -> None:
    _, plan = kept_before_measuring(cast, edition, seat)
    Course.objects.filter(pk=plan.pk).update(origin="planner", shown_to_team_at=timezone.now())
    plan = Course.objects.for_cards().get(pk=plan.pk)
    page, card = plan_page(seat, plan), card_of(plan)
    assert page["rows"][0].distance == card.rows[0].distance == f"{round(118 / 0.964)} cm"
    assert page["check"] == card.check
    assert "put right for that" in page_of(cast.as_team_a.get(f"/team/course/{plan.pk}/"))


def test_a_measuring_that_leaves_the_numbers_as_they_were_checks_a_plan_anew_all_the_same(
    cast: Any, edition: Any, seat: TeamSeat
) -> None:
    before = numbers_for(cast.robot_a)
    draft = TeamDraft(first_start(edition), tuple(DraftStep(*each) for each in CLEAR))
    plan = keep_draft(seat, edition, cast.robot_a, draft, base=0, now=timezone.now())
    even = [{"commanded_mm": 1000, "measured_mm": m} for m in (980, 1020, 980, 1020)]
    record_calibration(cast.robot_a, "straight", "table", even, by_team=cast.team_a, now=timezone.now())
    today = plan_today(Course.objects.for_cards().get(pk=plan.pk))
    assert today.measured_since and not today.moved
    assert today.check.landing != plan_today(plan, numbers=before).check.landing


def test_a_planners_course_is_there_only_once_a_coach_shows_it(cast: Any, edition: Any) -> None:
    hidden = make.CourseFactory(team=cast.team_a, tier_version=edition, robot=cast.robot_a, origin="planner", number=5)
    assert cast.as_team_a.get(f"/team/course/{hidden.pk}/").status_code == 404
    assert "Plan 5" not in page_of(cast.as_team_a.get("/team/course/"))
    hidden.shown_to_team_at = timezone.now()
    hidden.save()
    assert "Shown by your coach" in page_of(cast.as_team_a.get(f"/team/course/{hidden.pk}/"))
    assert "shown by your coach" in page_of(cast.as_team_a.get("/team/course/"))


def test_a_tiers_course_page_is_not_there_before_the_tier_is_open(cast: Any, edition: Any) -> None:
    shut = edition.version.tier_versions.exclude(pk=edition.pk).first().tier
    assert cast.as_team_a.get(f"/team/course/?tier={shut.pk}").status_code == 404
    assert cast.as_team_a.post("/team/course/", {"tier": shut.pk, "draft": draft_json(CLEAR)}).status_code == 404
    assert cast.as_team_a.get("/team/course/?tier=1e9").status_code == 404


def test_without_a_robot_or_a_mission_the_page_says_what_to_do(cast: Any) -> None:
    assert "No mission is open" in page_of(cast.as_team_a.get("/team/course/"))
    assert "No robot yet" in page_of(cast.as_team_b.get("/team/course/"))


def test_typed_numbers_are_whole_steps_of_the_robot(cast: Any, edition: Any) -> None:
    robot = cast.robot_a
    robot.distance_step_mm, robot.turn_step_deg = 12.7, 5
    draft = TeamDraft(first_start(edition), (DraftStep("drive", 10), DraftStep("turn", -3), DraftStep("wait", 3)))
    drive, turn, wait = draft_actions(draft, robot)
    assert drive.distance_mm == pytest.approx(127.0)
    assert (turn.by_deg, turn.to_deg) == (-15.0, -15.0)
    assert wait.seconds == 1.5


def test_a_robot_lent_for_today_is_the_one_that_the_tablet_and_the_planner_plan_for(
    cast: Any, edition: Any, seat: TeamSeat
) -> None:
    now = timezone.now()
    session = make.SessionFactory(term__club=cast.club, starts_at=now, ends_at=now + dt.timedelta(hours=1))
    lent = make.RobotFactory(club=cast.club, name="Kit 9", distance_step_mm=20)
    RobotLoan.objects.create(session=session, team=cast.team_a, robot=lent)
    assert cast.as_team_a.get("/team/course/").context["robot"] == lent
    assert "Kit 9" in page_of(cast.as_team_a.get("/team/robot/"))
    assert "Kit 9" in page_of(cast.as_coach.get(reverse("course_ask", args=[cast.team_a.pk, edition.tier_id])))
    session.delete()
    assert cast.as_team_a.get("/team/course/").context["robot"] == cast.robot_a


def test_a_plan_for_another_robot_is_put_into_the_steps_of_this_one(cast: Any, edition: Any, seat: TeamSeat) -> None:
    draft = TeamDraft(first_start(edition), tuple(DraftStep(*each) for each in CLEAR))
    plan = keep_draft(seat, edition, cast.robot_a, draft, base=0, now=timezone.now())
    other = make.RobotFactory(club=cast.club, distance_step_mm=20)
    assert draft_of(plan, other, numbers_for(other)).steps[0] == DraftStep("drive", 59)
