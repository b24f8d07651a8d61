"""Actions and courses: what a robot is told to do, and what is known about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from motion.scene.records import Point, Pose


@dataclass(frozen=True)
class Turn:
    """Turn in place by ``by_deg`` (signed, the way it really turns, may exceed 180) to the heading ``to_deg``."""

    by_deg: float
    to_deg: float
    do: Literal["turn"] = "turn"


@dataclass(frozen=True)
class Drive:
    """Drive straight; a negative distance backs up."""

    distance_mm: float
    do: Literal["drive"] = "drive"


@dataclass(frozen=True)
class Push:
    """Drive straight at push speed, into and along with the target."""

    distance_mm: float
    do: Literal["push"] = "push"


@dataclass(frozen=True)
class Tool:
    """Move the tool or wait: ``name`` is ``"lower"``, ``"raise"`` or ``"wait"``."""

    name: str
    seconds: float
    do: Literal["tool"] = "tool"


Action = Turn | Drive | Push | Tool


#: The action of a touch that lies in how the robot is set down.
AT_START = -1


@dataclass(frozen=True)
class Touch:
    """Where an action comes too near to something, or what the course does not do.

    ``action`` is an index into the course's actions; ``AT_START`` for how the robot is set down, and as many as there
    are actions for what is missing after the last of them.
    """

    action: int
    what: str  # "obstacle", "edge", "keep-out", "target", "base", "window"
    name: str  # words for it: "gravel bank", "the far edge", "the tide gate"
    x_mm: float
    y_mm: float
    overlap_mm: float  # how far inside the margin; 0 when only the end of the action is wrong
    message: str  # one sentence


@dataclass(frozen=True)
class Success:
    """Predicted chance that a run works, from simulated runs, with what it rests on."""

    probability: float
    low: float
    high: float
    runs: int


@dataclass(frozen=True)
class Landing:
    """Predicted spread of the nose at the end of the push, in the target's own frame (along the push, to its left)."""

    along_mm: float
    lateral_mm: float
    heading_deg: float
    along_sd_mm: float
    lateral_sd_mm: float
    heading_sd_deg: float
    covariance_xy_mm2: tuple[tuple[float, float], tuple[float, float]]  # table axes


@dataclass(frozen=True)
class Share:
    """What part of the landing's variance one action contributes."""

    action: int
    fraction: float
    source: str  # "turn", "distance", "drift", "start", "scale"


@dataclass(frozen=True)
class Meeting:
    """What is expected at one target of several: ``target`` of the scene's, by the push at index ``push``.

    ``success`` is the chance that a run gets there having touched nothing, and meets the window.
    """

    target: int
    name: str
    push: int
    landing: Landing
    shares: tuple[Share, ...]
    success: Success | None


@dataclass(frozen=True)
class Check:
    """What checking a course says: clear or every touch, room to spare per action, and what to expect.

    ``success`` is the chance that all works. Of several targets ``meetings`` has each, in the course's order, and
    ``landing`` and ``shares`` are those of the one that is missed most often; of one target ``meetings`` is empty.
    """

    clear: bool
    touches: tuple[Touch, ...]
    room_mm: tuple[float, ...]  # per action, beyond the true body; inf for a wait
    nearest: tuple[str, ...]  # per action, the name of what is nearest
    poses: tuple[Pose, ...]  # start, then after each action
    duration_s: float
    outbound_s: float
    return_s: float
    clearance_mm: float
    landing: Landing | None
    success: Success | None
    shares: tuple[Share, ...]
    meetings: tuple[Meeting, ...] = ()


@dataclass(frozen=True)
class PlannedCourse:
    """A list of actions with the aim it serves and its check."""

    aim: str  # "fastest", "simplest", "steadiest", or "own" for a team's draft
    rounded: bool
    margin_mm: float
    start: Pose
    actions: tuple[Action, ...]
    check: Check
    note: str = ""


@dataclass(frozen=True)
class SweptOutline:
    """A swept body outline for the drawing."""

    action: int
    rings: tuple[tuple[Point, ...], ...]


@dataclass(frozen=True)
class CourseDraft:
    """A course as written in a file or by a team, before anything is known about it."""

    aim: str
    rounded: bool
    margin_mm: float
    start: Pose
    actions: tuple[Action, ...]
