"""A kept plan as a card, and two of them side by side."""

from __future__ import annotations

from typing import Any

from classroom.access import TeamSeat
from classroom.services.robot_numbers import numbers_for
from motion.units import format_length
from planning.course_json import actions_from_json, check_from_json
from planning.models import Course, Origin
from planning.services.scene_for import pose_of, scene_for
from planning.tablet_course_page import chart, said
from planning.tablet_measured import as_measured, survey_in_force


def plan_page(seat: TeamSeat, course: Course) -> dict[str, Any]:
    """The numbers to type follow the robot's calibration of today; the check is the one that the plan was kept with."""
    robot, unit = course.robot, seat.club.unit
    numbers = numbers_for(robot)
    start = pose_of(course.start)
    true = actions_from_json(course.actions, start)
    check = check_from_json(course.check_result)
    # A plan that the tape came after is drawn where the mission has things, as it was checked.
    found = survey_in_force(seat.team, course.tier_version)
    measured = found if found is not None and found.made_at <= course.created_at else None
    scene = scene_for(as_measured(course.tier_version, measured), robot, numbers=numbers)
    calibration = numbers.calibration.pk if numbers.calibration else None
    return {
        "tab": "team_course",
        "tier": course.tier_version.tier,
        "course": course,
        "robot": robot,
        "own": course.origin == Origin.TEAM,
        "map": chart(scene, start, true, check, unit),
        "measured_since": course.calibration_id != calibration,
    } | said(check, true, start, robot, numbers, unit)


def compare_page(seat: TeamSeat, one: Course, two: Course) -> dict[str, Any]:
    pages = [plan_page(seat, one), plan_page(seat, two)]
    return {
        "tab": "team_course",
        "tier": pages[0]["tier"],
        "pages": pages,
        "differences": differences(pages[0], pages[1], seat.club.unit),
    }


def differences(one: dict[str, Any], two: dict[str, Any], unit: str) -> list[str]:
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
        found.append(f"{first} is {abs(a.duration_s - b.duration_s):.1f} s {quicker} than {second}.")
    if a.clear and b.clear:
        found.append(
            f"The tightest place: {format_length(a.clearance_mm, unit)} in {first.lower()}, "
            f"{format_length(b.clearance_mm, unit)} in {second}."
        )
        if a.success and b.success:
            found.append(
                f"Of 100 runs about {100 * a.success.probability:.0f} should work with {first.lower()}, "
                f"{100 * b.success.probability:.0f} with {second}."
            )
    changed = [
        str(i + 1)
        for i, (x, y) in enumerate(zip(one["rows"], two["rows"], strict=False))
        if (x.words, x.turn_words, x.distance) != (y.words, y.turn_words, y.distance)
    ]
    if changed:
        found.append(f"Other numbers in step {', '.join(changed)}.")
    return found or ["They are the same."]
