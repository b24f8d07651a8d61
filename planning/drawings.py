"""Maps for pages: motion draws, escaped and without style of its own; static/chart.css colours."""

from __future__ import annotations

from django.utils.safestring import SafeString, mark_safe

from classroom.models import Robot
from missions.models import TierVersion
from motion.picture import course_svg
from motion.scene_file import scene_from_dict
from planning.models import Job
from planning.services.card_of import Card
from planning.services.scene_for import scene_for


def card_drawing(card: Card) -> SafeString:
    """The course, its swept body, its touches and where it should land."""
    svg = course_svg(
        card.scene,
        start=card.start,
        actions=card.actions,
        touches=card.check.touches,
        landing=card.check.landing,
        standalone=False,
        unit=card.course.team.club.unit,
    )
    return mark_safe(svg)


def scene_drawing(edition: TierVersion, robot: Robot | None, unit: str) -> SafeString | None:
    """The map of a tier as a team's robot meets it; None without a robot."""
    if robot is None:
        return None
    return mark_safe(course_svg(scene_for(edition, robot), standalone=False, unit=unit))


def tightest_drawing(job: Job) -> SafeString | None:
    """The place that stopped every course of a job, if one was found."""
    if not job.result or "tightest" not in job.result:
        return None
    scene = scene_from_dict(job.input["scene"])
    return mark_safe(course_svg(scene, tightest=job.result["tightest"], standalone=False, unit=job.club.unit))
