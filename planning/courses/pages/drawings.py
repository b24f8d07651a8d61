"""Maps for pages: motion draws, escaped and without style of its own; static/site/chart.css colours."""

from __future__ import annotations

import re
from typing import Any

from django.utils.safestring import SafeString

from classroom.models import Robot
from classroom.site.kept_part import kept_markup
from missions.models import TierVersion
from motion.scene.files import scene_from_dict
from motion.scene.records import Scene
from planning.courses.pages.card import CourseCard
from planning.courses.scene_for import scene_for
from planning.models import Job


def card_drawing(card: CourseCard, *, again: bool = False) -> SafeString:
    """The course, its swept body, its touches and where it should land.

    ``again``: the page has such a map already, whose hatchings it shares (an id may be there only once).
    """
    return _draw(
        card.scene,
        again=again,
        start=card.start,
        actions=card.actions,
        touches=list(card.touches),
        landing=card.check.landing,
        meetings=card.check.meetings,
        unit=card.course.team.club.unit,
    )


def leaves_of(cards: list[CourseCard]) -> list[dict[str, Any]]:
    """Each card with its course and its map, for a page that shows them all."""
    return [
        {"card": card, "course": card.course, "drawing": card_drawing(card, again=i > 0)}
        for i, card in enumerate(cards)
    ]


def scene_drawing(edition: TierVersion, robot: Robot | None, unit: str) -> SafeString | None:
    """The map of a tier as a team's robot meets it; None without a robot."""
    return _draw(scene_for(edition, robot), unit=unit) if robot else None


def tightest_drawing(job: Job) -> SafeString | None:
    """The place that stopped every course of a job and what to move, if either was found."""
    result = job.result or {}
    shown = {key: result[key] for key in ("tightest", "mend") if result.get(key)}
    return _draw(scene_from_dict(job.input["scene"]), unit=job.club.unit, **shown) if shown else None


def _draw(scene: Scene, *, again: bool = False, **more: Any) -> SafeString:
    """Remembered: it is made of plain values alone."""

    def draw() -> str:
        from motion.picture.chart import course_svg  # late: it brings the kernels in, which the first page does without

        drawn = course_svg(scene, standalone=False, **more)
        return re.sub("<defs>.*?</defs>", "", drawn, flags=re.DOTALL) if again else drawn

    return kept_markup("map", draw, scene, again, sorted(more.items()))
