"""How far off a measured spread may be, for robots of which only one noise is told and no hypotheses."""

from __future__ import annotations

import math

from scipy import special

from motion.scene.records import Noise

#: A kit's nominal noise is trusted to this factor either way; so is a fit of very few runs at most to the other.
#: Common practice, no source.
NOMINAL_FACTOR = 2.0
LARGEST_FACTOR = 3.0


def noise_range(runs: int | None) -> tuple[float, float]:
    """Factors by which a standard deviation from so many runs may be too large or too small (95 %).

    >>> [round(f, 2) for f in noise_range(10)]
    [0.69, 1.83]
    """
    if runs is None:
        return 1.0 / NOMINAL_FACTOR, NOMINAL_FACTOR
    free = max(runs - 1, 1)
    low = math.sqrt(free / float(special.chdtri(free, 0.025)))
    high = math.sqrt(free / float(special.chdtri(free, 0.975)))
    return max(low, 1.0 / LARGEST_FACTOR), min(high, LARGEST_FACTOR)


def scaled_noise(noise: Noise, factor: float) -> Noise:
    """The noise with every spread multiplied.

    >>> scaled_noise(Noise(0.01, 3, 1, 1.5, 1, 0.5), 2).turn_sd_deg
    3.0
    """
    return Noise(
        noise.distance_scale_sd * factor,
        noise.start_position_sd_mm * factor,
        noise.start_heading_sd_deg * factor,
        noise.turn_sd_deg * factor,
        noise.drift_sd_deg_per_m * factor,
        noise.distance_sd_fraction * factor,
        noise.yaw_reference,
        noise.runs,
        noise.turn_growth_sd_deg * factor,
    )
