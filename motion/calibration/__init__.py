"""Calibration of a robot: one door to every fit.

Straight runs (``straight``), spins and resting drift (``turning``), the square path both ways (``square``), setting
down (``set_down``), a robot's noise from its fits (``noise``), what has changed since last time (``change``), and runs from a CSV file (``runs_file``).
"""

from motion.calibration.change import Change, ComparableFit, ComparedNumber, SaidOfChange, compare
from motion.calibration.noise import NOMINAL_NOISE
from motion.calibration.runs_file import LineProblem, RunsColumn, RunsTable, read_runs_csv
from motion.calibration.set_down import SetDownFit, fit_set_down
from motion.calibration.square import SquareFit, fit_square, square_return
from motion.calibration.straight import StraightFit, fit_straight
from motion.calibration.turning import RestDriftFit, SpinFit, fit_rest_drift, fit_spin

__all__ = [
    "NOMINAL_NOISE",
    "Change",
    "ComparableFit",
    "ComparedNumber",
    "LineProblem",
    "RestDriftFit",
    "RunsColumn",
    "RunsTable",
    "SaidOfChange",
    "SetDownFit",
    "SpinFit",
    "SquareFit",
    "StraightFit",
    "compare",
    "fit_rest_drift",
    "fit_set_down",
    "fit_spin",
    "fit_square",
    "fit_straight",
    "read_runs_csv",
    "square_return",
]
