"""What a mission looks like to the planner: table, base, start, target, obstacles, robot and its noise.

Lengths in mm, angles in degrees, +x along the table's long edge from its near left corner, +y away from the reader,
heading 0 along +x, counter-clockwise positive (REP-103). The numeric kernels convert to radians at their door.
Reading and writing of files: ``scene_file.py``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from motion.course.sentences import _

if TYPE_CHECKING:
    from motion.chance.hypotheses import Hypotheses

Point = tuple[float, float]
Polygon = tuple[Point, ...]


@dataclass(frozen=True)
class Pose:
    """Pose of the midpoint of the robot's axle."""

    x_mm: float
    y_mm: float
    heading_deg: float


@dataclass(frozen=True)
class Obstacle:
    """Something fixed that the robot's body must keep clear of. ``name`` is for words; may be empty."""

    outline: Polygon
    name: str = ""


#: Where a table may lack a corner. Not at the near left: everything is measured from there.
MISSING_CORNERS = ("far right", "far left", "near right")


@dataclass(frozen=True)
class MissingCorner:
    """What an L-shaped table lacks of its rectangle: a smaller one at a corner."""

    corner: str
    width_mm: float
    depth_mm: float

    def outline(self, width_mm: float, depth_mm: float) -> Polygon:
        """Where on a table of that size there is none.

        >>> MissingCorner("far right", 800, 400).outline(2400, 1200)
        ((1600, 800), (2400, 800), (2400, 1200), (1600, 1200))
        """
        x = width_mm - self.width_mm if self.corner.endswith("right") else 0.0
        y = depth_mm - self.depth_mm if self.corner.startswith("far") else 0.0
        return ((x, y), (x + self.width_mm, y), (x + self.width_mm, y + self.depth_mm), (x, y + self.depth_mm))


def table_outline(width_mm: float, depth_mm: float, missing: MissingCorner | None = None) -> Polygon:
    """A table from above: a rectangle, or an L.

    >>> table_outline(2400, 1200, MissingCorner("far right", 800, 400))
    ((0.0, 0.0), (2400, 0.0), (2400, 800), (1600, 800), (1600, 1200), (0.0, 1200))
    """
    corners = [(0.0, 0.0), (width_mm, 0.0), (width_mm, depth_mm), (0.0, depth_mm)]
    if missing is not None:
        at, inner = (
            ("near right", "far right", "far left").index(missing.corner) + 1,
            missing.outline(width_mm, depth_mm),
        )
        corners[at : at + 1] = [inner[(at - back) % 4] for back in (1, 2, 3)]
    return tuple(corners)


@dataclass(frozen=True)
class Window:
    """What counts as done at the target."""

    lateral_mm: float
    heading_deg: float
    short_mm: float
    long_mm: float


@dataclass(frozen=True)
class Target:
    """The thing to push.

    The robot stands at ``precontact``, ``gap_mm`` short of touching; the push leg is ``gap_mm + push_mm`` long and
    moves ``body`` by ``push_mm`` along the pre-contact heading. A push from ``push_mm - window.short_mm`` to
    ``push_mm + window.long_mm`` counts.
    """

    body: Polygon
    precontact: Pose
    gap_mm: float
    push_mm: float
    window: Window
    name: str = ""

    @property
    def push_leg_mm(self) -> float:
        return self.gap_mm + self.push_mm

    @property
    def pushed_body(self) -> Polygon:
        """Its body where the push leaves it."""
        heading = math.radians(self.precontact.heading_deg)
        dx, dy = self.push_mm * math.cos(heading), self.push_mm * math.sin(heading)
        return tuple((x + dx, y + dy) for x, y in self.body)


@dataclass(frozen=True)
class RobotSpec:
    """A two-wheeled robot. Footprints are polygons about the axle's midpoint, nose along +x.

    ``working_footprint`` (when given) holds from the tool action before the push until the tool is raised again;
    ``tool_seconds`` is what each of those two actions takes.
    ``distance_step_mm`` and ``turn_step_deg`` are the smallest true steps that the team can set.
    ``yaw_zero_deg`` is the table heading at which the robot's own yaw reads zero, None for "its start heading".
    """

    footprint: tuple[Polygon, ...]
    speed_mm_s: float
    acceleration_mm_s2: float
    push_speed_mm_s: float
    turn_rate_deg_s: float
    turn_acceleration_deg_s2: float
    settle_s: float
    min_leg_mm: float
    min_back_off_mm: float
    distance_step_mm: float
    turn_step_deg: float
    working_footprint: tuple[Polygon, ...] | None = None
    tool_seconds: float = 0.0


@dataclass(frozen=True)
class Noise:
    """How a robot departs from what it was told, as standard deviations, from its calibrations.

    A turn scatters the more the larger it is: its variance is ``turn_sd_deg`` squared, which every turn has, and
    ``turn_growth_sd_deg`` squared for each 90 degrees. ``runs`` is how many measured runs these numbers rest on; None
    for a kit's nominal numbers.
    """

    distance_scale_sd: float
    start_position_sd_mm: float
    start_heading_sd_deg: float
    turn_sd_deg: float
    drift_sd_deg_per_m: float
    distance_sd_fraction: float
    yaw_reference: str = "absolute"
    runs: int | None = None
    turn_growth_sd_deg: float = 0.0

    def turn_sd(self, by_deg: float) -> float:
        """Spread (degrees) of a turn by an angle.

        >>> Noise(0, 0, 0, 0.6, 0, 0, turn_growth_sd_deg=0.4).turn_sd(-360)
        1.0
        """
        return math.hypot(self.turn_sd_deg, self.turn_growth_sd_deg * math.sqrt(abs(by_deg) / 90.0))


@dataclass(frozen=True)
class Systematic:
    """What a robot does the same way every time, on top of what its scales say; in the order of ``error.PARAMETERS``.

    Positive: goes too far, stands ahead along +x or +y, stands turned to the left, turns too far, curves to the left.
    ``turn_bias_deg`` is added to every turn in the direction of that turn; ``drift_deg_per_m`` is an even curve.
    """

    distance_scale: float = 0.0
    start_x_mm: float = 0.0
    start_y_mm: float = 0.0
    start_heading_deg: float = 0.0
    turn_scale: float = 0.0
    turn_bias_deg: float = 0.0
    drift_deg_per_m: float = 0.0


@dataclass(frozen=True)
class Pace:
    """How many times as long as predicted a run takes (median), and by how much single runs differ (SD of the logarithm)."""

    factor: float = 1.0
    spread: float = 0.1


@dataclass(frozen=True)
class Scene:
    """One tier of one mission for one robot.

    ``start`` None leaves the start pose to the planner, anywhere inside the base. ``systematic`` is what is known of
    the robot beside its spreads; ``hypotheses`` is how well both are known, when that is to be carried along. A run
    that is over ``time_limit_s`` has not worked; ``pace`` is how long runs really take.

    ``target`` is the first thing to push and ``more_targets`` are the others: in that order, unless ``any_order`` leaves
    it to whoever makes the course. ``missing`` makes the table an L. Each target stays where it was pushed to. What is to be known of a scene while one target is
    gone for is a scene with that target alone: :mod:`motion.ground.errands`.
    """

    width_mm: float
    depth_mm: float
    base: Polygon
    start: Pose | None
    target: Target
    obstacles: tuple[Obstacle, ...]
    robot: RobotSpec
    noise: Noise
    margin_mm: float
    keep_outs: tuple[Obstacle, ...] = ()
    name: str = ""
    best_known: dict | None = field(default=None, compare=False)
    systematic: Systematic = Systematic()
    hypotheses: Hypotheses | None = None
    time_limit_s: float | None = None
    pace: Pace = Pace()
    more_targets: tuple[Target, ...] = ()
    any_order: bool = False
    missing: MissingCorner | None = None

    @property
    def targets(self) -> tuple[Target, ...]:
        """Everything that is to be pushed, the first one first."""
        return (self.target, *self.more_targets)

    @property
    def no_table(self) -> tuple[Obstacle, ...]:
        """The corner that an L-shaped table lacks: no body may be there, as at an edge, and nothing can be moved there."""
        if self.missing is None:
            return ()
        return (Obstacle(self.missing.outline(self.width_mm, self.depth_mm), _("the missing corner")),)
