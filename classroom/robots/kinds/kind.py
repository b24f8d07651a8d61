"""What a kind of calibration is: one record with all that pages, services and rules ask of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, NamedTuple, TypeVar

from classroom.site.lazily import lazily as _
from motion.calibration import ComparableFit, RunsColumn

if TYPE_CHECKING:
    from classroom.models import Robot
    from motion.picture.camera.robot_moved import RobotMoved
    from motion.scene.contact import Nose
    from motion.scene.records import Point

Run = Mapping[str, Any]
Fit = TypeVar("Fit", bound=ComparableFit)


@dataclass(frozen=True, kw_only=True)
class SheetColumn(RunsColumn):
    """A column of the sheet on which runs are entered; ``key`` is its name in ``Calibration.runs``.

    ``digits_only`` offers a tablet's keypad that has no minus sign. What is read in ``as_told`` goes the way that the first
    column was told: the other sign is a slip of the pen.
    """

    label: str
    key: str
    digits_only: bool = False
    as_told: bool = False


class MeasuringStep(NamedTuple):
    """One thing to do while measuring, under the word that it answers."""

    head: str
    words: str


#: How most kinds begin.
READY = MeasuringStep(_("Get ready"), _("The table of the mission, a charged battery, clean tyres."))


@dataclass(frozen=True)
class Correction:
    """To get ``wanted`` really, type ``typed``; ``settable`` is the nearest that the robot can be told."""

    wanted: str
    typed: str
    settable: str = ""


@dataclass(frozen=True)
class OverTime(Generic[Fit]):
    """What the picture of a robot's calibrations over time shows.

    ``value(fit, unit)`` gives a number and its standard uncertainty (0: it has none); ``{unit}`` in ``suffix`` stands
    for the club's unit of length.
    """

    caption: str
    value: Callable[[Fit, str], tuple[float, float]]
    suffix: str
    from_zero: bool = False


def _nothing(fit: object, robot: Robot, unit: str) -> list[Any]:
    return []


class PictureReading(NamedTuple):
    """What two pictures say of a column, by the column's name: in mm or degrees, with its standard error."""

    column: str
    value: float
    sd: float


@dataclass(frozen=True)
class BodyEnds:
    """What of a robot a tape is held to: the middle of its front, its back, its left, mm about the axle's middle."""

    nose: Nose
    back_mm: float
    left_mm: float

    @property
    def length_mm(self) -> float:
        return self.nose.reach_mm - self.back_mm


@dataclass(frozen=True)
class ByPicture:
    """How a run is read from where the robot stands in two pictures.

    Attributes
    ----------
    first, then
        When each is taken, in words.
    points
        Of the robot, that are followed from the first picture to the second; ``told`` as below.
    read
        What the sheet's columns say then. ``told`` is what was typed into the field named ``asks``, in mm or degrees; None
        where it is empty.
    asks
        A column, or ``side``, that is asked for beside the pictures.
    once
        One first picture does for all runs of a sheet.
    """

    first: str
    then: str
    points: Callable[[BodyEnds, float | None], Sequence[Point]]
    read: Callable[[RobotMoved, float | None], tuple[PictureReading, ...]]
    asks: str = ""
    once: bool = False


@dataclass(frozen=True)
class CalibrationKind(Generic[Fit]):
    """A kind of calibration.

    Attributes
    ----------
    key
        Its name in the database and in addresses: small letters, digits and _.
    label, called, counted
        Its name as a heading, within a sentence, and what its runs are called after their number.
    steps
        How to measure.
    columns
        Of its sheet and of its CSV files.
    fit_class, fit_runs
        A dataclass of motion with ``runs`` and ``compared()``, and what makes one of runs as they were measured.
        ``fit_runs`` raises ``FitError``, ``InputError``, or ``KeyError`` for a reading that a run lacks.
    found
        What the fit says, in one or two sentences, lengths in the given unit.
    over_time
        What a picture of several shows.
    corrections
        What to type so that the robot really does what is wanted.
    settings
        (setting, value) for kits in which sizes can be set once for all.
    blank_rows
        How many an empty sheet has.
    side
        A length that all runs of one calibration share, asked for once.
    puts_right
        Parameters of a diagnosis (``motion.calibration.diagnosis``) that measuring this kind puts right for good.
    by_picture
        How its runs are read from pictures, if they can be.
    """

    key: str
    label: str
    called: str
    counted: str
    steps: tuple[MeasuringStep, ...]
    columns: tuple[SheetColumn, ...]
    fit_class: type[Fit]
    fit_runs: Callable[[Robot, Sequence[Run]], Fit]
    found: Callable[[Fit, str], str]
    over_time: OverTime[Fit]
    corrections: Callable[[Fit, Robot, str], list[Correction]] = _nothing
    settings: Callable[[Fit, Robot, str], list[tuple[str, str]]] = _nothing
    blank_rows: int = 6
    side: SheetColumn | None = None
    puts_right: frozenset[str] = frozenset()
    by_picture: ByPicture | None = None

    def read_back(self, stored: Mapping[str, Any]) -> Fit:
        """The fit as motion made it, from its record in the database, where tuples are lists."""
        return self.fit_class(**{key: tuple(v) if isinstance(v, list) else v for key, v in stored.items()})

    def outliers(self, fit: Fit) -> tuple[int, ...]:
        """Indices of runs that stand out, if this kind looks for them."""
        return tuple(getattr(fit, "outliers", ()))
