"""Compiling ahead: one small scene planned every way, so that the first real job does not wait."""

from __future__ import annotations

from dataclasses import replace

from motion.errors import MotionError
from motion.scene.records import Noise, Obstacle, Pose, RobotSpec, Scene, Target, Window
from motion.search.plan import plan_courses

_ROBOT = RobotSpec(
    footprint=(((-50, -75), (150, -75), (150, 75), (-50, 75)),),
    speed_mm_s=250,
    acceleration_mm_s2=500,
    push_speed_mm_s=120,
    turn_rate_deg_s=150,
    turn_acceleration_deg_s2=500,
    settle_s=0.25,
    min_leg_mm=20,
    min_back_off_mm=40,
    distance_step_mm=10,
    turn_step_deg=5,
)

WARM_SCENE = Scene(
    width_mm=1500,
    depth_mm=900,
    base=((0, 0), (450, 0), (450, 400), (0, 400)),
    start=Pose(150, 150, 0),
    target=Target(
        body=((1180, 430), (1240, 430), (1240, 490), (1180, 490)),
        precontact=Pose(1000, 460, 0),
        gap_mm=30,
        push_mm=60,
        window=Window(22, 5, 20, 30),
    ),
    obstacles=(Obstacle(((600, 200), (720, 200), (720, 420), (600, 420))),),
    robot=_ROBOT,
    noise=Noise(0.01, 3, 1, 1.2, 1.0, 0.004),
    margin_mm=3,
)

#: An L-shaped base takes the other way of telling when the robot is home.
_BAY = ((0, 0), (450, 0), (450, 400), (300, 400), (300, 350), (0, 350))


def compile_kernels() -> None:
    """Plan and check a small invented scene for every aim; what comes out does not matter."""
    for scene in (WARM_SCENE, replace(WARM_SCENE, base=_BAY), replace(WARM_SCENE, start=None)):
        for exact in (False, True):
            try:
                plan_courses(scene, "all" if scene is WARM_SCENE else "fastest", exact=exact)
            except MotionError:
                continue
