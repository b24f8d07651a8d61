"""Where a course meets the target, how widely runs spread there, and what contributes to it, in closed form.

The landing is where the middle of the robot's nose is at the end of the push, along the push and to its left, and how
the robot is turned: that is what a team sees and measures.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from motion.chance.error import (
    OWN,
    SCALE,
    START_HEADING,
    START_X,
    START_Y,
    Chain,
    chain_of,
    exact,
    first_order,
    sensitivity,
)
from motion.chance.least_squares import Array
from motion.course.actions import Action, Landing, Push, Share, Tool, Turn
from motion.course.driven import told_for
from motion.course.sentences import _
from motion.errors import MotionCode, MotionError
from motion.scene.contact import Nose, nose_of
from motion.scene.records import Pose, Scene
from motion.units import wrap_deg


def pushing_nose(scene: Scene) -> Nose:
    """The nose that meets the target: that of the working footprint when the robot has one.

    >>> from motion.scene.example import example_scene
    >>> pushing_nose(example_scene())
    Nose(reach_mm=150, left_mm=0.0)
    """
    return nose_of(scene.robot.working_footprint or scene.robot.footprint)


def told_on(scene: Scene, start: Pose, actions: Sequence[Action]) -> tuple[Action, ...]:
    """What the scene's robot is told so that it drives a course: allows for what is known of it.

    A robot that turns 2 degrees too far each time and curves by 4 degrees a metre, told so that it drives at 34.

    >>> from dataclasses import replace
    >>> from motion.course.actions import Drive
    >>> from motion.scene.example import example_scene
    >>> from motion.scene.records import Systematic
    >>> scene = replace(example_scene(), systematic=Systematic(turn_bias_deg=2, drift_deg_per_m=4))
    >>> told_on(scene, scene.start, [Turn(34, 34), Drive(1000)])[0]
    Turn(by_deg=30, to_deg=30.0, do='turn')
    """
    step, reach = scene.robot.turn_step_deg, pushing_nose(scene).reach_mm
    return told_for(start, actions, scene.systematic, step, scene.noise.yaw_reference, reach_mm=reach)


def miss(scene: Scene, pose: Pose) -> tuple[float, float, float]:
    """How far the nose of a robot at the end of its push is from where it should be.

    Returns
    -------
    tuple of float
        Along the push (mm, positive too far), to its left (mm), and how far the robot is turned to the left (deg).

    Examples
    --------
    >>> from motion.scene.example import example_scene
    >>> [round(value, 2) for value in miss(example_scene(), Pose(1150, 255, 2))]
    [-0.09, 10.23, 2.0]
    """
    aim, nose = scene.target.precontact, pushing_nose(scene)
    h = math.radians(aim.heading_deg)
    dx, dy = pose.x_mm - aim.x_mm, pose.y_mm - aim.y_mm
    turned = wrap_deg(pose.heading_deg - aim.heading_deg)
    c, s = math.cos(math.radians(turned)), math.sin(math.radians(turned))
    along = dx * math.cos(h) + dy * math.sin(h) - scene.target.push_leg_mm
    lateral = dy * math.cos(h) - dx * math.sin(h)
    along += nose.reach_mm * (c - 1.0) - nose.left_mm * s
    lateral += nose.reach_mm * s + nose.left_mm * (c - 1.0)
    return along, lateral, turned


def until_landing(actions: Sequence[Action]) -> Sequence[Action]:
    """The actions up to and with the last push.

    Raises
    ------
    MotionError
        ``no_push``.

    >>> from motion.course.actions import Drive
    >>> [action.do for action in until_landing([Drive(900), Push(100), Drive(-1000)])]
    ['drive', 'push']
    """
    pushes = [k for k, action in enumerate(actions) if isinstance(action, Push)]
    if not pushes:
        raise MotionError(
            MotionCode.NO_PUSH, _("The course never pushes; add the push leg to know where it lands."), "actions"
        )
    return actions[: pushes[-1] + 1]


#: Of ``error.PARAMETERS``: what brings each into the chain's units.
IN_RADIANS = np.array([1.0, 1.0, 1.0, math.pi / 180.0, 1.0, math.pi / 180.0, math.pi / 180.0])


@dataclass(frozen=True)
class LandingErrors:
    """Landing in the target's frame: ``mean`` (3,) and ``jacobian`` (3, m) of along, lateral (mm), heading (rad).

    ``covariance`` (3, 3) likewise; ``covariance_xy`` (2, 2) of the nose in the table's axes.
    """

    mean: Array
    jacobian: Array
    covariance: Array
    covariance_xy: Array
    sd: Array


def landing_errors(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    *,
    told: Sequence[Action] | None = None,
    gaussian: bool = False,
) -> LandingErrors:
    """The landing of a course with its sensitivity to every error, in the target's frame.

    The landing is where the robot's nose is at the end of the push leg, and how the robot is turned there. Of a scene
    with hypotheses it is that of their mean; what is not known of the systematic numbers is part of the covariance.
    """
    until = until_landing(actions)
    told = (told_on(scene, start, actions) if told is None else told)[: len(until)]
    known = scene.hypotheses
    if known is not None:
        scene = replace(scene, noise=known.noise(scene.noise.yaw_reference), systematic=known.expected())
    nose, aim = pushing_nose(scene), scene.target.precontact
    chain = _to_nose(chain_of(start, until, scene.noise, systematic=scene.systematic, told=told), nose)
    growth = exact(chain) if gaussian else first_order(chain)
    h = math.radians(aim.heading_deg)
    c, s = math.cos(h), math.sin(h)
    into = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    mean = into @ (growth.mean - (aim.x_mm, aim.y_mm, h))
    mean -= (scene.target.push_leg_mm + nose.reach_mm, nose.left_mm, 0.0)
    mean[2] = math.radians(wrap_deg(math.degrees(mean[2])))
    slope, covariance = sensitivity(chain), growth.covariance
    if known is not None:
        unsure = slope[:, :OWN] * IN_RADIANS
        covariance = covariance + unsure @ known.covariance() @ unsure.T
    return LandingErrors(mean, into @ slope, into @ covariance @ into.T, covariance[:2, :2], chain.sd)


def _to_nose(chain: Chain, nose: Nose) -> Chain:
    """The chain with two legs more, from the axle's middle to the nose: they turn with the robot and keep their length."""
    return chain._replace(
        heading=np.append(chain.heading, [chain.end_heading, chain.end_heading + math.pi / 2.0]),
        length=np.append(chain.length, [nose.reach_mm, nose.left_mm]),
        turn_of=np.vstack([chain.turn_of, chain.end_turn_of, chain.end_turn_of]),
        length_of=np.vstack([chain.length_of, np.zeros((2, len(chain.sd)))]),
    )


def parameter_jacobian(
    scene: Scene, start: Pose, actions: Sequence[Action], *, told: Sequence[Action] | None = None
) -> Array:
    """Jacobian (3, 7) of the landing (along mm, lateral mm, heading deg) with respect to ``PARAMETERS`` in their units."""
    jacobian = landing_errors(scene, start, actions, told=told).jacobian[:, :OWN] * IN_RADIANS
    jacobian[2] = np.degrees(jacobian[2])
    return jacobian


def landing(
    scene: Scene,
    start: Pose,
    actions: Sequence[Action],
    *,
    told: Sequence[Action] | None = None,
    gaussian: bool = False,
) -> tuple[Landing, tuple[Share, ...]]:
    """Predicted spread where the robot meets the target, and which action contributes how much to it.

    Parameters
    ----------
    scene, start, actions
        The course as planned; what follows the push is not looked at.
    told
        What the robot is told so that it drives ``actions``; ``told_on`` when not given.
    gaussian
        Exact Gaussian moments in place of first order.

    Returns
    -------
    Landing, tuple of Share
        Where the nose is at the end of the push leg, in the target's frame; the scene's systematic part included. The
        shares, largest first, are parts of the summed variance of along, lateral and heading, each measured in units of
        its window, and sum to 1; what belongs to the whole run ("start" and "scale") has ``action`` -1. Without noise
        there are none.

    Raises
    ------
    MotionError
        ``no_push``, ``not_finite``, ``bad_noise``.

    >>> from motion.course.actions import Drive
    >>> from motion.scene.example import example_scene
    >>> scene = example_scene()  # set down within 3 mm, and 0.4 % of a metre is 4 mm: 5 mm along
    >>> spread, shares = landing(scene, scene.start, [Drive(900), Push(100)])
    >>> round(spread.along_sd_mm, 6), round(spread.lateral_sd_mm, 6), shares[0].source
    (5.0, 3.0, 'start')
    """
    errors = landing_errors(scene, start, actions, told=told, gaussian=gaussian)
    along, lateral, heading = (math.sqrt(max(0.0, v)) for v in np.diag(errors.covariance))
    xy = errors.covariance_xy
    result = Landing(
        along_mm=float(errors.mean[0]),
        lateral_mm=float(errors.mean[1]),
        heading_deg=math.degrees(errors.mean[2]),
        along_sd_mm=along,
        lateral_sd_mm=lateral,
        heading_sd_deg=math.degrees(heading),
        covariance_xy_mm2=((float(xy[0, 0]), float(xy[0, 1])), (float(xy[1, 0]), float(xy[1, 1]))),
    )
    return result, _shares(scene, actions, errors)


def _shares(scene: Scene, actions: Sequence[Action], errors: LandingErrors) -> tuple[Share, ...]:
    window = scene.target.window
    size = np.array(
        [
            max((window.short_mm + window.long_mm) / 2.0, 1e-3),
            max(window.lateral_mm, 1e-3),
            max(math.radians(window.heading_deg), 1e-6),
        ]
    )
    parts = np.sum((errors.jacobian * errors.sd / size[:, None]) ** 2, axis=0)
    total = float(parts.sum())
    if total <= 0.0:
        return ()
    found = [
        Share(-1, float(parts[SCALE]) / total, "scale"),
        Share(-1, float(parts[[START_X, START_Y, START_HEADING]].sum()) / total, "start"),
    ]
    for k, action in enumerate(actions[: (len(parts) - OWN) // 2]):
        own = OWN + 2 * k
        if isinstance(action, Turn):
            found.append(Share(k, float(parts[own]) / total, "turn"))
        elif not isinstance(action, Tool):
            found.append(Share(k, float(parts[own]) / total, "distance"))
            found.append(Share(k, float(parts[own + 1]) / total, "drift"))
    return tuple(sorted((share for share in found if share.fraction > 0.0), key=lambda share: -share.fraction))
