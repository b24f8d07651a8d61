"""What a kit does before anybody has measured it."""

from __future__ import annotations

from motion.scene.records import Noise

#: What a small two-wheeled robot does before anybody has measured it. Common practice, no source.
NOMINAL_NOISE = Noise(
    distance_scale_sd=0.01,
    start_position_sd_mm=3.0,
    start_heading_sd_deg=1.0,
    turn_sd_deg=1.0,
    turn_growth_sd_deg=0.7,
    drift_sd_deg_per_m=1.0,
    distance_sd_fraction=0.004,
    yaw_reference="absolute",
    runs=None,
)
