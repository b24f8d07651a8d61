"""Compiling the planner's kernels once, and knowing that it has been done.

Numba keeps what it compiled beside the sources (or in NUMBA_CACHE_DIR); the stamp in the data folder says for which
sources, compiler and processor that was.
"""

from __future__ import annotations

import hashlib
import importlib.metadata
import platform
import sys
from pathlib import Path

from django.conf import settings

from motion.scene import Noise, Obstacle, Pose, Robot, Scene, Target, Window

SMALL_SCENE = Scene(
    width_mm=1200,
    depth_mm=800,
    base=((0, 0), (400, 0), (400, 400), (0, 400)),
    start=Pose(120, 200, 0),
    target=Target(
        body=((1000, 500), (1040, 500), (1040, 640), (1000, 640)),
        precontact=Pose(800, 570, 0),
        gap_mm=30,
        push_mm=40,
        window=Window(lateral_mm=40, heading_deg=8, short_mm=20, long_mm=30),
        name="gate",
    ),
    obstacles=(Obstacle(((520, 240), (600, 240), (600, 330), (520, 330)), "bank"),),
    keep_outs=(Obstacle(((1000, 60), (1100, 60), (1100, 160), (1000, 160)), "mud"),),
    robot=Robot(
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
        turn_step_deg=1,
    ),
    noise=Noise(
        distance_scale_sd=0.005,
        start_position_sd_mm=2,
        start_heading_sd_deg=0.5,
        turn_sd_deg=0.8,
        drift_sd_deg_per_m=0.5,
        distance_sd_fraction=0.004,
    ),
    margin_mm=3,
)


def warm_up() -> None:
    """Plan one small course each way, so that every kernel is compiled or loaded."""
    from motion.plan import plan_courses

    plan_courses(SMALL_SCENE, "all")


def warm_up_checks() -> None:
    """Load what checking a team's draft needs; small enough for the web process."""
    from motion.check import check_course
    from motion.route import Drive

    assert SMALL_SCENE.start is not None
    check_course(SMALL_SCENE, SMALL_SCENE.start, (Drive(100.0),), runs=200)


def stamp_text() -> str:
    """What the compiled kernels depend on. By time and size, as numba's own index goes."""
    sources = sorted((Path(settings.BASE_DIR) / "motion").glob("*.py"))
    facts = [sys.version, platform.machine(), platform.processor(), importlib.metadata.version("numba")]
    facts += [f"{path.name} {path.stat().st_mtime_ns} {path.stat().st_size}" for path in sources]
    return hashlib.sha256("\n".join(facts).encode()).hexdigest()


def stamp_file() -> Path:
    return Path(settings.DATA_DIR) / "warm.stamp"


def is_warm() -> bool:
    path = stamp_file()
    return path.exists() and path.read_text() == stamp_text()
