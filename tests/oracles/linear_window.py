"""The chance to meet the window by the closed form: a second way to what the simulation says, sharing no code with it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.stats import multivariate_normal

from motion.chance.landing import landing_errors
from motion.course.actions import Action
from motion.scene.records import Pose, Scene


def linear_window_probability(scene: Scene, start: Pose, actions: Sequence[Action]) -> float:
    """Chance to meet the window by the closed form: a Gaussian box, first order in the errors."""
    errors = landing_errors(scene, start, actions)
    window = scene.target.window
    heading = math.radians(window.heading_deg)
    low = np.array([-window.short_mm, -window.lateral_mm, -heading])
    high = np.array([window.long_mm, window.lateral_mm, heading])
    sd = np.sqrt(np.diag(errors.covariance))
    sure = sd <= 1e-12
    if bool(((errors.mean[sure] < low[sure]) | (errors.mean[sure] > high[sure])).any()):
        return 0.0
    if sure.all():
        return 1.0
    kept = np.flatnonzero(~sure)
    covariance = errors.covariance[np.ix_(kept, kept)] / np.outer(sd[kept], sd[kept])
    return float(
        multivariate_normal.cdf(
            (high - errors.mean)[kept] / sd[kept],
            cov=covariance,
            lower_limit=(low - errors.mean)[kept] / sd[kept],
            allow_singular=True,
            rng=np.random.default_rng(0),
        )
    )
