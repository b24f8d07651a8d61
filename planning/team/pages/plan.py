"""A kept plan as a card, and two of them side by side."""

from __future__ import annotations

from typing import Any

from classroom.access import TeamSeat
from missions.models import Attempt
from motion.units import figure, format_length
from planning.courses.pages.next_measurement import next_words
from planning.courses.plan_today import plan_today
from planning.forecasts.queries import forecast_of
from planning.models import Course, Origin
from planning.team.measured import plan_in_doubt
from planning.team.pages.course import chart, said

#: So many changed steps are told one by one when two plans are compared.
MOST_TOLD = 5


def plan_page(seat: TeamSeat, course: Course) -> dict[str, Any]:
    """The same plan, numbers and check as on the coach's card of it."""
    robot, unit = course.robot, seat.club.unit
    today = plan_today(course)
    met = Attempt.objects.met_of_plan(course.team, course.tier_version.tier, course.number)
    return {
        "tab": "team_course",
        "tier": course.tier_version.tier,
        "course": course,
        "robot": robot,
        "own": course.origin == Origin.TEAM,
        "map": chart(today.scene, today.start, today.true, today.check, unit, met=met),
        "met": len(met),
        "moved": today.moved,
        "in_doubt": plan_in_doubt(course),
        "forecast": forecast_of(course),
        "measure_next": next_words(today),
        "tick": True,
    } | said(today.scene, today.check, today.true, today.told, robot, today.numbers, today.known.runs, unit)


def compare_page(seat: TeamSeat, one: Course, two: Course) -> dict[str, Any]:
    pages = [plan_page(seat, one), plan_page(seat, two)]
    return {
        "tab": "team_course",
        "tier": pages[0]["tier"],
        "pages": pages,
        "differences": plan_differences(pages[0], pages[1], seat.club.unit),
    }


def plan_differences(one: dict[str, Any], two: dict[str, Any], unit: str) -> list[str]:
    """What the second does otherwise than the first, in words."""
    a, b = one["check"], two["check"]
    first, second = f"Plan {one['course'].number}", f"plan {two['course'].number}"
    found = []
    if a.clear != b.clear:
        clear, touches = (first, second) if a.clear else (second.capitalize(), first.lower())
        found.append(f"{clear} is clear, {touches} is not.")
    if len(one["rows"]) != len(two["rows"]):
        found.append(f"{first} has {len(one['rows'])} steps, {second} has {len(two['rows'])}.")
    if abs(a.duration_s - b.duration_s) >= 0.1:
        quicker = "slower" if a.duration_s > b.duration_s else "quicker"
        found.append(f"{first} is {figure(abs(a.duration_s - b.duration_s), 1)} s {quicker} than {second}.")
    if a.clear and b.clear:
        found.append(
            f"The tightest place: {format_length(a.clearance_mm, unit)} in {first.lower()}, "
            f"{format_length(b.clearance_mm, unit)} in {second}."
        )
        if a.success and b.success:
            found.append(
                f"Of 100 runs about {figure(100 * a.success.probability)} should work with {first.lower()}, "
                f"{figure(100 * b.success.probability)} with {second}."
            )
    found += _changed_steps(one, two, first, second)
    return found or ["They are the same."]


def _changed_steps(one: dict[str, Any], two: dict[str, Any], first: str, second: str) -> list[str]:
    """ "Step 3: drive 70 cm in plan 1, 75 cm in plan 2." for a few; for many only which."""
    pairs = [(x, y) for x, y in zip(one["rows"], two["rows"], strict=False) if x.does != y.does]
    for page, rows in ((one, [x for x, _ in pairs]), (two, [y for _, y in pairs])):
        page["changed"] = {row.number for row in rows}
    if len(pairs) > MOST_TOLD:
        return [f"Other numbers in step {', '.join(str(x.number) for x, _ in pairs)}."]
    return [f"Step {x.number}: {_lower(x.does)} in {first.lower()}, {_lower(y.does)} in {second}." for x, y in pairs]


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]
