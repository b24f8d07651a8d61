"""A small invented scene for the examples in docstrings: all on one line, so that a reader can follow it by head."""

from __future__ import annotations

from motion.scene.records import Noise, Obstacle, Pose, RobotSpec, Scene, Target, Window


def example_scene() -> Scene:
    """A table of 2 m by 1 m: the robot starts at the left and drives 900 mm straight ahead to the tide gate.

    Its body is 200 by 100 mm with the nose 150 mm ahead of the axle. It pushes the gate by 50 mm after a gap of 50 mm.
    A gravel bank lies 300 mm to the left of its body. A leg takes its length at 250 mm/s (a push at 100 mm/s), and half
    a second for starting and stopping (0.2 s), and half a second for coming to rest. It is set down within 3 mm, its
    distances come out within 0.4 %, its turns within 1 degree; it errs in nothing else.

    Examples
    --------
    >>> scene = example_scene()
    >>> scene.start, scene.target.precontact
    (Pose(x_mm=150, y_mm=250, heading_deg=0), Pose(x_mm=1050, y_mm=250, heading_deg=0))
    """
    return Scene(
        width_mm=2000,
        depth_mm=1000,
        base=((0, 0), (500, 0), (500, 500), (0, 500)),
        start=Pose(150, 250, 0),
        target=Target(
            body=((1250, 200), (1350, 200), (1350, 300), (1250, 300)),
            precontact=Pose(1050, 250, 0),
            gap_mm=50,
            push_mm=50,
            window=Window(lateral_mm=20, heading_deg=5, short_mm=30, long_mm=30),
            name="tide gate",
        ),
        obstacles=(Obstacle(((600, 600), (800, 600), (800, 800), (600, 800)), "gravel bank"),),
        robot=RobotSpec(
            footprint=(((-50, -50), (150, -50), (150, 50), (-50, 50)),),
            speed_mm_s=250,
            acceleration_mm_s2=500,
            push_speed_mm_s=100,
            turn_rate_deg_s=90,
            turn_acceleration_deg_s2=180,
            settle_s=0.5,
            min_leg_mm=20,
            min_back_off_mm=40,
            distance_step_mm=10,
            turn_step_deg=1,
        ),
        noise=Noise(
            distance_scale_sd=0.004,
            start_position_sd_mm=3,
            start_heading_sd_deg=0.0,
            turn_sd_deg=1,
            drift_sd_deg_per_m=0.0,
            distance_sd_fraction=0.0,
        ),
        margin_mm=10,
        name="straight to the gate",
    )
