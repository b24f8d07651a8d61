"""A tier as it really stands on a team's table: the mission's places, moved to where tape or picture has them.

Things are numbered: 0 is the mission's target, then come the obstacles, then the tier's own targets. A mark of a survey
is "thing:corner".
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.errors import InputError
from classroom.models import Team
from classroom.site.figures import length_said
from classroom.site.listed import listed
from missions.models import TierVersion
from motion.calibration.off_shape import reading_off_shape
from motion.calibration.placing import Placing, place_outline
from motion.calibration.survey import Survey, survey
from motion.calibration.survey_readings import CORNERS, EDGES, PicturePlaces, TapeReading
from motion.course.plain_words import plainly
from motion.errors import FitError, MotionError
from motion.scene.records import Point, Polygon, Pose
from motion.units import format_length, parse_length, whole_number
from planning.errors import PlanningCode
from planning.models import Course, Origin, TableSurvey

MOST_ROWS = 40
SPARE_ROWS = 4
#: Where a tape starts, by its name in motion, as a list has it and within a sentence.
STARTS = {
    "left": (gettext_noop("from the left edge"), gettext_noop("%(corner)s, from the left edge")),
    "right": (gettext_noop("from the right edge"), gettext_noop("%(corner)s, from the right edge")),
    "near": (gettext_noop("from the near edge"), gettext_noop("%(corner)s, from the near edge")),
    "far": (gettext_noop("from the far edge"), gettext_noop("%(corner)s, from the far edge")),
    "near left": (gettext_noop("from the near left corner"), gettext_noop("%(corner)s, from the near left corner")),
    "near right": (gettext_noop("from the near right corner"), gettext_noop("%(corner)s, from the near right corner")),
    "far left": (gettext_noop("from the far left corner"), gettext_noop("%(corner)s, from the far left corner")),
    "far right": (gettext_noop("from the far right corner"), gettext_noop("%(corner)s, from the far right corner")),
}
_CORNERS = {
    (True, True): gettext_noop("near left corner"),
    (True, False): gettext_noop("near right corner"),
    (False, True): gettext_noop("far left corner"),
    (False, False): gettext_noop("far right corner"),
}
#: A measured corner this far from where the mission's own shape can have it: one of the two is wrong. Common practice.
SHAPE_OFF_MM = 20.0


@dataclass(frozen=True)
class SurveyedObject:
    number: int
    name: str
    outline: Polygon

    @property
    def corners(self) -> list[tuple[str, str]]:
        """(mark, words) of each corner: near left and so on for four-cornered things, else by number."""
        words = _corner_words(self.outline)
        of = _("%(thing)s, %(corner)s")
        return [(f"{self.number}:{i}", of % {"thing": self.name, "corner": words[i]}) for i in range(len(self.outline))]


@dataclass
class TapeLine:
    """One row of the sheet as typed; ``again`` when it should be measured again."""

    mark: str = ""
    to: str = ""
    text: str = ""
    error: str = ""
    again: bool = False


@dataclass(frozen=True)
class SolvedSurvey:
    """Solved readings: where each mark is, how each thing moves, and what to do in words."""

    survey: Survey
    readings: tuple[TapeReading, ...]
    places: dict[int, Placing]
    sentence: str
    moved: tuple[str, ...]
    odd: tuple[str, ...]
    picture: PicturePlaces | None = None

    @property
    def doubtful(self) -> bool:
        return bool(self.survey.again or self.odd)


def surveyed_objects(edition: TierVersion) -> list[SurveyedObject]:
    named = [(edition.target_name(0), edition.version.target["body"])]
    named += [
        (each.get("name") or _("obstacle %(number)s") % {"number": i + 1}, each["outline"])
        for i, each in enumerate(edition.obstacles)
    ]
    named += [(edition.target_name(i), each["body"]) for i, each in enumerate(edition.more_targets, start=1)]
    return [
        SurveyedObject(i, name, tuple((float(x), float(y)) for x, y in outline))
        for i, (name, outline) in enumerate(named)
    ]


def first_lines(things: Sequence[SurveyedObject]) -> list[TapeLine]:
    """Two corners of each thing from two edges each: enough to see how it stands, with nothing to spare yet."""
    lines = []
    for thing in things:
        order = sorted(range(len(thing.outline)), key=lambda i: thing.outline[i][0] + thing.outline[i][1])
        for corner in (order[0], order[-1]):
            lines += [TapeLine(f"{thing.number}:{corner}", edge) for edge in ("left", "near")]
    return lines + [TapeLine() for _ in range(SPARE_ROWS)]


def read_lines(data: Mapping[str, Any]) -> list[TapeLine]:
    lines = []
    for i in range(MOST_ROWS):
        if f"mark-{i}" not in data:
            break
        mark, to, text = (str(data.get(f"{name}-{i}", "")).strip()[:40] for name in ("mark", "to", "distance"))
        lines.append(TapeLine(mark, to, text))
    return lines


def kept_lines(found: TableSurvey | None, unit: str) -> list[TapeLine]:
    """The readings of a kept survey, to add to."""
    if found is None:
        return []
    tape = [r for r in found.readings if "to" in r]
    lines = [TapeLine(r["mark"], r["to"], format_length(r["distance_mm"], unit)) for r in tape]
    return lines + [TapeLine() for _ in range(SPARE_ROWS)]


def kept_picture(found: TableSurvey | None) -> PicturePlaces | None:
    """What a picture said of the table, where the kept survey has it."""
    record = next((r for r in found.readings if "places_mm" in r), None) if found is not None else None
    if record is None:
        return None
    return PicturePlaces(tuple(record["marks"]), np.array(record["places_mm"]), np.array(record["covariance"]))


def fix_of(
    edition: TierVersion, lines: Sequence[TapeLine], unit: str, picture: PicturePlaces | None = None
) -> SolvedSurvey:
    """Solve what was typed, with the places of a picture if there is one; lines without a distance are left out, bad
    ones get their error.

    Raises
    ------
    InputError
        ``bad_line`` after marking the lines, or the code of the fit that cannot be made.
    """
    things = surveyed_objects(edition)
    readings, rows = _readings(things, lines, unit, edition.version.missing_corner)
    names = {mark: words for thing in things for mark, words in thing.corners}
    try:
        # Marks carry their words, since the fit speaks of them by name.
        spoken = [TapeReading(names[r.mark], r.to, r.distance_mm) for r in readings]
        named = replace(picture, marks=tuple(names[mark] for mark in picture.marks)) if picture else None
        found = survey(edition.version.width_mm, edition.version.depth_mm, spoken, named)
    except FitError as error:
        raise InputError(error.code, plainly(error.message, unit)) from error
    off_shape = _off_shape(edition, things, spoken, found)
    if off_shape is not None:
        found = replace(found, again=(off_shape,), apart=())
    for index in found.again:
        lines[rows[index]].again = True
    places = _placings(things, found)
    return SolvedSurvey(
        found,
        tuple(readings),
        places,
        _sentence(found, rows, names, readings, unit)
        if off_shape is None
        else _("Take reading %(number)s again: %(where)s. Without it the corners fit the shape.")
        % {"number": rows[off_shape] + 1, "where": _where(readings[off_shape], names)},
        tuple(_moved(things[n], placing, unit) for n, placing in places.items()),
        tuple(
            _("The corners of the %(thing)s do not fit its shape: measure them again.") % {"thing": things[n].name}
            for n, placing in places.items()
            if placing.residual_mm > SHAPE_OFF_MM
        ),
        picture,
    )


def survey_in_force(team: Team, edition: TierVersion) -> TableSurvey | None:
    newest = TableSurvey.objects.filter(team=team, tier_version=edition).order_by("-made_at", "-pk").first()
    return newest if newest is not None and newest.ended_at is None else None


def in_doubt(edition: TierVersion, found: TableSurvey | None) -> bool:
    """Whether a kept survey's readings contradict each other or the shapes of things."""
    return found is not None and fix_of(edition, kept_lines(found, "mm"), "mm", kept_picture(found)).doubtful


def newest_survey(team: Team, edition: TierVersion) -> int:
    """By its number a page knows whether what it sent has been kept; 0 when there is none, ended ones counted too."""
    surveys = TableSurvey.objects.filter(team=team, tier_version=edition)
    return surveys.order_by("-pk").values_list("pk", flat=True).first() or 0


def as_measured(edition: TierVersion, found: TableSurvey | None) -> TierVersion:
    """A copy of the tier, never to be saved, with everything where the tape or picture has it."""
    if found is None:
        return edition
    return moved_edition(edition, {int(n): Placing(**record) for n, record in found.places.items()})


def moved_edition(edition: TierVersion, places: Mapping[int, Placing]) -> TierVersion:
    moved, version = copy.copy(edition), copy.copy(edition.version)
    moved.version = version
    if 0 in places:
        version.target = _moved_target(edition.version.target, places[0])
    moved.obstacles = [
        {**each, "outline": _outline(each["outline"], places[i + 1])} if i + 1 in places else each
        for i, each in enumerate(edition.obstacles)
    ]
    first = 1 + len(edition.obstacles)
    moved.more_targets = [
        _moved_target(each, places[first + i]) if first + i in places else each
        for i, each in enumerate(edition.more_targets)
    ]
    return moved


def record_of(places: Mapping[int, Placing]) -> dict[str, Any]:
    return {str(n): asdict(placing) for n, placing in places.items()}


def _readings(
    things: Sequence[SurveyedObject], lines: Sequence[TapeLine], unit: str, absent: str
) -> tuple[list[TapeReading], list[int]]:
    """``absent`` is the corner that the table lacks: no tape starts there."""
    known = {mark for thing in things for mark, _ in thing.corners}
    readings, rows = [], []
    for i, line in enumerate(lines):
        if not line.text:
            continue
        try:
            if line.mark not in known or line.to not in (*CORNERS, *EDGES) or line.to == absent:
                raise InputError(PlanningCode.BAD_LINE, _("Choose a corner and where the tape starts."))
            readings.append(TapeReading(line.mark, line.to, parse_length(line.text, unit)))
            rows.append(i)
        except MotionError as error:
            line.error = error.message
        except InputError as error:
            line.error = error.message
    if any(line.error for line in lines):
        raise InputError(PlanningCode.BAD_LINE, _("Some lines need another look."))
    return readings, rows


def _off_shape(
    edition: TierVersion, things: Sequence[SurveyedObject], spoken: Sequence[TapeReading], found: Survey
) -> int | None:
    """Among readings that cannot be told apart by themselves, the one that the known shape of its thing tells."""
    if not found.apart:
        return None
    corners = {words: (thing.number, i) for thing in things for i, (_, words) in enumerate(thing.corners)}
    outlines = {thing.number: thing.outline for thing in things}
    version = edition.version
    return reading_off_shape(version.width_mm, version.depth_mm, spoken, found.apart, corners, outlines)


def _where(reading: TapeReading, names: Mapping[str, str]) -> str:
    return _(STARTS[reading.to][1]) % {"corner": names[reading.mark]}


def _sentence(
    found: Survey, rows: Sequence[int], names: Mapping[str, str], readings: Sequence[TapeReading], unit: str
) -> str:
    """What to measure again, by the number of its line; else what motion says."""
    if not found.again:
        return plainly(found.sentence, unit)
    if found.apart:
        return _(
            "Readings %(numbers)s do not fit together. One of them is wrong: take them again, "
            "or take one more from another edge or corner to see which."
        ) % {"numbers": listed([str(rows[i] + 1) for i in sorted(found.apart)])}
    worst = found.again[0]
    off, reading = found.residuals_mm[worst], readings[worst]
    words = (
        _("Take reading %(number)s again: %(where)s. It reads %(size)s more than the others say.")
        if off > 0
        else _("Take reading %(number)s again: %(where)s. It reads %(size)s less than the others say.")
    )
    return words % {"number": rows[worst] + 1, "where": _where(reading, names), "size": length_said(abs(off), unit)}


def _placings(things: Sequence[SurveyedObject], found: Survey) -> dict[int, Placing]:
    seen: dict[str, Point] = {mark.name: (mark.x_mm, mark.y_mm) for mark in found.marks}
    places = {}
    for thing in things:
        corners = {i: seen[words] for i, (_, words) in enumerate(thing.corners) if words in seen}
        if corners:
            places[thing.number] = place_outline(thing.outline, corners)
    return places


def _moved(thing: SurveyedObject, placing: Placing, unit: str) -> str:
    x, y = _middle(thing.outline)
    to = placing.point((x, y))
    ways = []
    for shift, more, less in (
        (to[0] - x, _("%(size)s right"), _("%(size)s left")),
        (to[1] - y, _("%(size)s away from you"), _("%(size)s towards you")),
    ):
        if abs(shift) > 1 - 1e-6:  # a millimetre, whatever noise it comes with
            ways.append((more if shift > 0 else less) % {"size": length_said(abs(shift), unit)})
    if turned := whole_number(abs(placing.turn_deg)):
        words = _("turned %(angle)s to the left") if placing.turn_deg > 0 else _("turned %(angle)s to the right")
        ways.append(words % {"angle": f"{turned}°"})
    if not ways:
        return _("The %(thing)s stands where the mission has it.") % {"thing": thing.name}
    words = _("The %(thing)s stands %(ways)s of where the mission has it.")
    return words % {"thing": thing.name, "ways": ", ".join(ways)}


def _moved_target(target: Mapping[str, Any], placing: Placing) -> dict[str, Any]:
    moved = {**target, "body": _outline(target["body"], placing)}
    for key in ("contact", "precontact"):
        if target.get(key):
            record = target[key]
            pose = placing.pose(Pose(float(record["x_mm"]), float(record["y_mm"]), float(record["heading_deg"])))
            moved[key] = {**record, **asdict(pose)}
    return moved


def _outline(outline: Sequence[Sequence[float]], placing: Placing) -> list[list[float]]:
    return [list(placing.point((float(x), float(y)))) for x, y in outline]


def _middle(outline: Polygon) -> Point:
    return sum(p[0] for p in outline) / len(outline), sum(p[1] for p in outline) / len(outline)


def _corner_words(outline: Polygon) -> list[str]:
    x, y = _middle(outline)
    words = [_(_CORNERS[py < y, px < x]) for px, py in outline]
    if len(set(words)) == len(words):
        return words
    return [_("corner %(number)s") % {"number": i + 1} for i in range(len(outline))]


def edition_of(course: Course) -> TierVersion:
    """The map that a plan was checked on: a team's own with everything where its tape had it by then."""
    return as_measured(course.tier_version, _survey_of(course))


def editions_of(courses: Sequence[Course]) -> dict[int, TierVersion]:
    """``edition_of`` of many, by the course's key. One query."""
    own = [course for course in courses if course.origin == Origin.TEAM]
    newest: dict[tuple[int, int], TableSurvey] = {}
    if own:
        surveys = TableSurvey.objects.filter(
            team__in={course.team_id for course in own}, tier_version__in={course.tier_version_id for course in own}
        )
        newest = {(one.team_id, one.tier_version_id): one for one in surveys.order_by("made_at", "pk")}
    found = {}
    for course in courses:
        survey = newest.get((course.team_id, course.tier_version_id)) if course.origin == Origin.TEAM else None
        in_force = survey if survey and survey.ended_at is None and survey.made_at <= course.created_at else None
        found[course.pk] = as_measured(course.tier_version, in_force)
    return found


def plan_in_doubt(course: Course) -> bool:
    """Whether a plan was checked on places that the survey leaves in doubt."""
    return in_doubt(course.tier_version, _survey_of(course))


def _survey_of(course: Course) -> TableSurvey | None:
    found = survey_in_force(course.team, course.tier_version) if course.origin == Origin.TEAM else None
    return found if found and found.made_at <= course.created_at else None
