"""A kept plan as a card, and two of them side by side."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from classroom.access import TeamSeat
from classroom.site.figures import figure_said, length_said
from missions.models import Attempt
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
    names = {"one": one["course"].number, "two": two["course"].number}
    found = []
    if a.clear != b.clear:
        clear, other = ("one", "two") if a.clear else ("two", "one")
        found.append(
            _("Plan %(clear)s is clear, plan %(other)s is not.") % {"clear": names[clear], "other": names[other]}
        )
    if len(one["rows"]) != len(two["rows"]):
        counts = {"steps": len(one["rows"]), "others": len(two["rows"])}
        found.append(_("Plan %(one)s has %(steps)s steps, plan %(two)s has %(others)s.") % (names | counts))
    if abs(a.duration_s - b.duration_s) >= 0.1:
        by = names | {"seconds": figure_said(abs(a.duration_s - b.duration_s), 1)}
        found.append(
            _("Plan %(one)s is %(seconds)s s slower than plan %(two)s.") % by
            if a.duration_s > b.duration_s
            else _("Plan %(one)s is %(seconds)s s quicker than plan %(two)s.") % by
        )
    if a.clear and b.clear:
        rooms = {"room": length_said(a.clearance_mm, unit), "other": length_said(b.clearance_mm, unit)}
        found.append(_("The tightest place: %(room)s in plan %(one)s, %(other)s in plan %(two)s.") % (names | rooms))
        if a.success and b.success:
            runs = [figure_said(100 * each.success.probability) for each in (a, b)]
            found.append(
                _("Of 100 runs about %(runs)s should work with plan %(one)s, %(others)s with plan %(two)s.")
                % (names | {"runs": runs[0], "others": runs[1]})
            )
    found += _changed_steps(one, two, names)
    return found or [_("They are the same.")]


def _changed_steps(one: dict[str, Any], two: dict[str, Any], names: dict[str, int]) -> list[str]:
    """ "Step 3: drive 70 cm in plan 1, 75 cm in plan 2." for a few; for many only which."""
    pairs = [(x, y) for x, y in zip(one["rows"], two["rows"], strict=False) if x.does != y.does]
    for page, rows in ((one, [x for x, _y in pairs]), (two, [y for _x, y in pairs])):
        page["changed"] = {row.number for row in rows}
    if len(pairs) > MOST_TOLD:
        steps = ", ".join(str(x.number) for x, _y in pairs)
        return [_("Other numbers in step %(steps)s.") % {"steps": steps}]
    return [
        _("Step %(step)s: %(does)s in plan %(one)s, %(other)s in plan %(two)s.")
        % (names | {"step": x.number, "does": _lower(x.does), "other": _lower(y.does)})
        for x, y in pairs
    ]


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]
