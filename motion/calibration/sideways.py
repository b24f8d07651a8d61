"""How far straight runs stray to the side: the robot's own curve, and how it was set down."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from motion.calibration.variances import fit_variances, tells_apart, unbiased_sd, widened
from motion.chance.least_squares import Array

#: Spread of the heading at which a kit is set down, before anybody has measured it. Common practice, no source.
NOMINAL_SET_DOWN_DEG = 1.0
#: Runs beyond the fitted numbers before two spreads are looked for.
SPARE_RUNS = 2


@dataclass(frozen=True)
class Sideways:
    """Means and spreads between runs; ``source`` says where the set-down's spread is from: "runs", "set_down" or "nominal".

    A mean set-down is None where the runs do not tell it from the curve.
    """

    drift_deg_per_m: float
    drift_u_deg_per_m: float
    drift_sd_deg_per_m: float
    drift_free: float
    heading_sd_deg: float
    heading_deg: float | None
    heading_u_deg: float | None
    source: str


def fit_sideways(distance_mm: Array, left_mm: Array, reading_mm: float, set_down_sd_deg: float | None) -> Sideways:
    """Miss = heading * distance + curve * distance^2 / 2 + reading, heading and curve both new in every run.

    Both spreads grow with the distance, the curve's with its square: runs of different distance tell them apart. With
    runs of one distance, or too few, the set-down's is taken out: as measured by itself, else a kit's nominal.

    Examples
    --------
    >>> told, left = np.array([500.0, 500.0, 1000.0, 1000.0]), np.array([3.0, 2.0, 9.0, 11.0])
    >>> found = fit_sideways(told, left, 1.0, None)
    >>> round(found.drift_deg_per_m, 2), found.source, fit_sideways(told[:2], left[:2], 1.0, None).source
    (1.15, 'runs', 'nominal')
    """
    per_deg = math.radians(1.0) * distance_mm
    per_deg_per_m = math.radians(1.0) / 1000.0 * distance_mm**2 / 2.0
    known = np.full(len(distance_mm), reading_mm**2 / 12.0)
    taken = NOMINAL_SET_DOWN_DEG if set_down_sd_deg is None else set_down_sd_deg
    apart = tells_apart(distance_mm) and len(distance_mm) >= 2 + SPARE_RUNS
    design = np.column_stack([per_deg_per_m, per_deg] if apart else [per_deg_per_m])
    if apart and set_down_sd_deg is None:
        shares, source = np.column_stack([per_deg_per_m**2, per_deg**2]), "runs"
    else:
        source = "nominal" if set_down_sd_deg is None else "set_down"
        shares, known = (per_deg_per_m**2)[:, None], known + taken**2 * per_deg**2
    found = fit_variances(design, left_mm, shares, known)
    spreads = [unbiased_sd(*pair) for pair in zip(found.variances, found.degrees, strict=True)]
    u = found.fit.uncertainties * widened(len(left_mm) - design.shape[1])
    if source != "runs":  # the spread that was taken out may not be theirs: the runs say how sure their mean is
        floor = reading_mm / math.sqrt(12.0) / float(found.sd.max())
        u = u * max(found.fit.residual_sd, floor)
    return Sideways(
        drift_deg_per_m=float(found.fit.values[0]),
        drift_u_deg_per_m=float(u[0]),
        drift_sd_deg_per_m=spreads[0],
        drift_free=float(found.degrees[0]),
        heading_sd_deg=spreads[1] if source == "runs" else taken,
        heading_deg=float(found.fit.values[1]) if apart else None,
        heading_u_deg=float(u[1]) if apart else None,
        source=source,
    )
