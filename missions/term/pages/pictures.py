"""A term in pictures: how far landings spread, how long a run takes, how many runs a session has. No ranking.

Sums are made in the database, one row a team and session, so that a hundred thousand runs cost one query.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Count, F, FloatField, Q, Sum
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import get_language, gettext_lazy
from django.utils.translation import gettext as _
from scipy import special

from classroom.models import Club, Session, Team, Term
from classroom.robots.pages.pictures import SeriesPicture, series_picture
from classroom.robots.robot_at import robots_at
from classroom.site.figures import figure_said, length_said
from missions.models import Attempt
from missions.runs.tags import sideways, too_far
from missions.runs.what_changed import what_changed
from missions.term.pages.change_words import change_in_words
from motion.chance.intervals import wilson
from motion.units import to_unit

#: Under this many landings in a session a spread says nothing.
FEWEST = 4
#: The whiskers hold the true value with this probability.
SURE = 0.8
#: Teams run other tiers, plans and robots: all together nothing can be told of a change.
WHOLE = gettext_lazy(
    "Whether anything has changed stands with each team: only runs of one plan with one robot can be compared."
)


@dataclass(frozen=True)
class SessionSums:
    """Runs of one team, or of all, in one session, as sums."""

    day: dt.date
    runs: int
    done: int
    landings: int
    lateral_mm: float
    along_mm: float
    squares_mm2: float
    freedom: int
    timed: int
    seconds: float
    seconds_squared: float

    def __add__(self, other: SessionSums) -> SessionSums:
        return SessionSums(
            self.day,
            *(
                getattr(self, name) + getattr(other, name)
                for name in (
                    "runs",
                    "done",
                    "landings",
                    "lateral_mm",
                    "along_mm",
                    "squares_mm2",
                    "freedom",
                    "timed",
                    "seconds",
                    "seconds_squared",
                )
            ),
        )


@dataclass(frozen=True)
class Bar:
    """Runs of a session: those done below, the others on top."""

    x: float
    width: float
    done_y: float
    done_height: float
    other_y: float
    other_height: float
    words: str
    runs: int
    middle: float
    day: str


@dataclass(frozen=True)
class Pictures:
    """One team, or the club when ``team`` is None."""

    team: Team | None
    #: Of what they are drawn.
    key: str
    clean: SeriesPicture | None
    offset: SeriesPicture | None
    spread: SeriesPicture | None
    seconds: SeriesPicture | None
    bars: tuple[Bar, ...]
    most_runs: int
    in_words: str


def term_pictures(term: Term, club: Club, now: dt.datetime) -> dict[str, Any]:
    """Pictures of the club and of each team that ran, in the club's order of teams."""
    sums = _sums(term)
    of_session: dict[int, SessionSums] = {}
    for by_session in sums.values():
        for key, one in by_session.items():
            of_session[key] = of_session[key] + one if key in of_session else one
    teams = Team.objects.filter(club=club, pk__in=list(sums))
    end = dt.datetime.combine(term.ends_on + dt.timedelta(days=1), dt.time(), ZoneInfo(club.time_zone))
    at = min(now, end - dt.timedelta(microseconds=1))
    changed = what_changed(robots_at(club, at), at, end) if sums else {}
    every_day = sorted({one.day for one in of_session.values()})
    return {
        "whole": _pictures(None, of_session.values(), every_day, club.unit, str(WHOLE)),
        "each": [
            _pictures(
                team, sums[team.pk].values(), every_day, club.unit, change_in_words(changed.get(team.pk), club.unit)
            )
            for team in teams
        ],
        "runs": sum(one.runs for one in of_session.values()),
        "fewest": FEWEST,
        "sure": SURE,
    }


def _sums(term: Term) -> dict[int, dict[int, SessionSums]]:
    landed = Q(lateral_mm__isnull=False, along_mm__isnull=False)
    number = FloatField()
    rows = (
        Attempt.objects.standing()
        .filter(session__in=Session.objects.filter(term=term))
        .order_by()
        .values("team", "session")
        .annotate(
            runs=Count("pk"),
            done=Count("pk", filter=Q(success=True)),
            landings=Count("pk", filter=landed),
            lateral=Sum("lateral_mm", filter=landed, default=0.0),
            along=Sum("along_mm", filter=landed, default=0.0),
            squares=Sum(F("lateral_mm") ** 2 + F("along_mm") ** 2, filter=landed, default=0.0, output_field=number),
            timed=Count("duration_s"),
            seconds=Sum("duration_s", default=0.0),
            seconds_squared=Sum(F("duration_s") ** 2, default=0.0, output_field=number),
        )
    )
    days = {pk: timezone.localdate(at) for pk, at in Session.objects.filter(term=term).values_list("pk", "starts_at")}
    sums: dict[int, dict[int, SessionSums]] = defaultdict(dict)
    for row in rows:
        n = row["landings"]
        # About the team's own mean: where it lands on average is calibration, how far it scatters is this.
        squares = row["squares"] - (row["lateral"] ** 2 + row["along"] ** 2) / n if n else 0.0
        sums[row["team"]][row["session"]] = SessionSums(
            day=days[row["session"]],
            runs=row["runs"],
            done=row["done"],
            landings=n,
            lateral_mm=row["lateral"],
            along_mm=row["along"],
            squares_mm2=max(0.0, squares),
            freedom=2 * (n - 1) if n > 1 else 0,
            timed=row["timed"],
            seconds=row["seconds"],
            seconds_squared=row["seconds_squared"],
        )
    return sums


def _pictures(
    team: Team | None, sums: Iterable[SessionSums], days: Sequence[dt.date], unit: str, in_words: str
) -> Pictures:
    ordered = tuple(sorted(sums, key=lambda one: one.day))
    drawn = _drawn(ordered, tuple(days), unit, get_language(), of_team=team is not None)
    return replace(drawn, team=team, in_words=in_words)


@lru_cache(maxsize=1024)
def _drawn(
    ordered: tuple[SessionSums, ...], days: tuple[dt.date, ...], unit: str, language: str, *, of_team: bool
) -> Pictures:
    """Remembered: between two sessions they stay as they are. Days and numbers are written in the language."""
    spread = [(one, spread_mm(one.squares_mm2, one.freedom)) for one in ordered if one.landings >= FEWEST]
    timed = [(one, mean_between(one.timed, one.seconds, one.seconds_squared)) for one in ordered if one.timed >= 2]
    clean = [(one, (one.done / one.runs, *wilson(one.done, one.runs, SURE))) for one in ordered]
    # Teams run other tiers: where all of them land on average says nothing.
    offset = [(one, offset_mm(one)) for one, _around in spread] if of_team else []
    small = {"width": 250, "height": 150} if of_team else {"width": 300, "height": 170}
    most = max((one.runs for one in ordered), default=0)
    facts = repr((language, ordered, days, unit, of_team))
    return Pictures(
        team=None,
        key=hashlib.sha256(facts.encode()).hexdigest(),
        clean=series_picture(
            [(one.day, 100 * share, 100 * low, 100 * high) for one, (share, low, high) in clean],
            suffix=" %",
            decimals=0,
            from_zero=True,
            most=100.0,
            words=[_clean_words(one, around) for one, around in clean],
            **small,
        ),
        offset=series_picture(
            [(one.day, *_in_unit(around, unit)) for one, around in offset],
            suffix=f" {unit}",
            from_zero=True,
            words=[_offset_words(one, around, unit) for one, around in offset],
            **small,
        ),
        spread=series_picture(
            [(one.day, *_in_unit(around, unit)) for one, around in spread],
            suffix=f" {unit}",
            from_zero=True,
            words=[_spread_words(one, around, unit) for one, around in spread],
            **small,
        ),
        seconds=series_picture(
            [(one.day, *around) for one, around in timed],
            suffix=" s",
            from_zero=True,
            words=[
                _("%(day)s: %(around)s s a run, %(timed)s timed runs")
                % {
                    "day": date_format(one.day, "SHORT_DAY_FORMAT"),
                    "around": figure_said(around[0], 1),
                    "timed": one.timed,
                }
                for one, around in timed
            ],
            **small,
        ),
        bars=_bars(ordered, days, most, **small),
        most_runs=most,
        in_words="",
    )


def _in_unit(around: tuple[float, float, float], unit: str) -> tuple[float, float, float]:
    value, low, high = around
    return to_unit(value, unit), to_unit(low, unit), to_unit(high, unit)


def spread_mm(squares_mm2: float, freedom: int) -> tuple[float, float, float]:
    """Standard deviation in one direction and its interval, from a sum of squares about the mean.

    With normal errors the sum over the variance is chi-square distributed (NIST/SEMATECH e-Handbook of Statistical
    Methods, 1.3.5.8, for the interval of a standard deviation).
    """
    sd = math.sqrt(squares_mm2 / freedom)
    low, high = special.chdtri(freedom, [(1 + SURE) / 2, (1 - SURE) / 2])
    return sd, math.sqrt(squares_mm2 / high), math.sqrt(squares_mm2 / low)


def offset_mm(one: SessionSums) -> tuple[float, float, float]:
    """How far the middle of a session's landings lies from the mark, and how far it may lie.

    The reach is Student's t of the spread in one direction over the root of the count, as for a mean along the line to
    the mark.
    """
    off = math.hypot(one.lateral_mm, one.along_mm) / one.landings
    sd = math.sqrt(one.squares_mm2 / one.freedom)
    reach = special.stdtrit(one.freedom, (1 + SURE) / 2) * sd / math.sqrt(one.landings)
    return off, max(0.0, off - reach), off + reach


def mean_between(count: int, total: float, squared: float) -> tuple[float, float, float]:
    """Mean and its interval by Student's t, from sums."""
    mean = total / count
    variance = max(0.0, squared - total * mean) / (count - 1)
    reach = special.stdtrit(count - 1, (1 + SURE) / 2) * math.sqrt(variance / count)
    return mean, max(0.0, mean - reach), mean + reach


def _clean_words(one: SessionSums, around: tuple[float, float, float]) -> str:
    _share, low, high = (figure_said(100 * part) for part in around)
    return _("%(day)s: %(clean)s of %(count)s clean (%(low)s to %(high)s %%)") % {
        "day": _day(one),
        "clean": one.done,
        "count": one.runs,
        "low": low,
        "high": high,
    }


def _day(one: SessionSums) -> str:
    return date_format(one.day, "SHORT_DAY_FORMAT")


def _offset_words(one: SessionSums, around: tuple[float, float, float], unit: str) -> str:
    across, ahead = one.lateral_mm / one.landings, one.along_mm / one.landings
    return _("%(day)s: %(off)s off the mark, %(sideways)s, %(along)s, %(count)s landings") % {
        "day": _day(one),
        "off": length_said(around[0], unit),
        "sideways": sideways(across, unit),
        "along": too_far(ahead, unit),
        "count": one.landings,
    }


def _spread_words(one: SessionSums, around: tuple[float, float, float], unit: str) -> str:
    spread, low, high = (length_said(mm, unit) for mm in around)
    return _("%(day)s: %(spread)s (%(low)s to %(high)s), %(count)s landings") % {
        "day": _day(one),
        "spread": spread,
        "low": low,
        "high": high,
        "count": one.landings,
    }


def _bars(
    ordered: Sequence[SessionSums], days: Sequence[dt.date], most: int, *, width: int, height: int
) -> tuple[Bar, ...]:
    if not ordered or not most:
        return ()
    left, right, top, bottom = 26.0, width - 26.0, 20.0, height - 26.0
    pitch = (right - left) / max(len(days), 1)
    thick = min(26.0, pitch * 0.66)
    scale = (bottom - top) / most
    bars = []
    for one in ordered:
        middle = left + pitch * (days.index(one.day) + 0.5)
        done, other = one.done * scale, (one.runs - one.done) * scale
        bars.append(
            Bar(
                x=round(middle - thick / 2, 1),
                width=round(thick, 1),
                done_y=round(bottom - done, 1),
                done_height=round(done, 1),
                other_y=round(bottom - done - other, 1),
                other_height=round(other, 1),
                words=_("%(day)s: %(runs)s runs, %(done)s done")
                % {"day": date_format(one.day, "SHORT_DAY_FORMAT"), "runs": one.runs, "done": one.done},
                runs=one.runs,
                middle=round(middle, 1),
                day=date_format(one.day, "SHORT_DAY_FORMAT"),
            )
        )
    return tuple(bars)
