"""Everything a judgement rests on: one team in one tier, its very runs, the rule, the decisions."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from classroom.models import Club, Robot, Team
from classroom.robots.robot_at import HeldRobot, robots_at
from classroom.site.isolated import isolated
from missions.models import Attempt, ChangeMark, ProgressChange, Tier
from missions.readiness.forms.change import ChangeForm
from missions.readiness.own_words import own_words
from missions.readiness.pages.board import BoardRow, left_out_rungs, read_row, rungs_of
from missions.readiness.pages.landing_plot import LoggedLanding, Plot, plot_of
from missions.readiness.rules.answer import count_in_words
from missions.readiness.rules.evidence import Evidence
from missions.readiness.rules.rule_words import look_in_words, rule_in_words
from missions.readiness.rules.standing import BoardCell, BoardTier
from missions.runs.rules.runs_say import LAST

SHOWN = 60
MARKS = 6
#: What to measure first when one cause keeps coming back, as (kind of calibration, words). Common practice, no source.
CHECKS = {
    "turned_too_far": ("spin", gettext_lazy("Start a spin check")),
    "turned_too_little": ("spin", gettext_lazy("Start a spin check")),
    "too_short": ("straight", gettext_lazy("Measure straight runs")),
    "too_long": ("straight", gettext_lazy("Measure straight runs")),
    "wheel_slip": ("straight", gettext_lazy("Measure straight runs")),
}


@dataclass(frozen=True)
class EvidencePage:
    team: Team
    tier: Tier
    row: BoardRow
    cell: BoardCell
    above: BoardCell | None
    rung: BoardTier
    runs: Sequence[Attempt]
    more_runs: int
    plot: Plot | None
    changes: Sequence[ProgressChange]
    count: str
    said: Sequence[str]
    rule: Sequence[str]
    looks: Sequence[str]
    robot: Robot | None
    check: tuple[str, str] | None
    calibrated_at: dt.datetime | None
    marks: Sequence[ChangeMark]
    change_form: ChangeForm


def read_evidence(club: Club, team: Team, tier: Tier, now: dt.datetime) -> EvidencePage | None:
    """None while the tier has never been published: there is nothing to rest on."""
    now = now.astimezone(ZoneInfo(club.time_zone))
    rungs = left_out_rungs(club, [tier.pk]) if tier.left_out_at else rungs_of(club, tier.mission)
    held = robots_at(club, now, team=team)
    row = read_row(club, team, tier.mission, rungs, held, now)
    places = [i for i, rung in enumerate(rungs) if rung.tier.pk == tier.pk]
    if not places:
        return None
    at = places[0]
    cell, rung = row.cells[at], rungs[at]
    logged = Attempt.objects.filter(team=team, tier=tier)
    runs = list(logged.for_evidence()[: SHOWN + 1])
    more = logged.count() - SHOWN if len(runs) > SHOWN else 0
    standing = [run for run in runs[:SHOWN] if run.withdrawn_at is None and run.replaced_by_id is None]
    own = held.get(team.pk)
    return EvidencePage(
        team=team,
        tier=tier,
        row=row,
        cell=cell,
        above=row.cells[at + 1] if at + 1 < len(rungs) else None,
        rung=rung,
        runs=runs[:SHOWN],
        more_runs=more,
        plot=_plot(standing, _counts_with(own, now), rung, club.unit),
        changes=list(
            ProgressChange.objects.filter(progress__team=team, progress__tier=tier).select_related("by__user")
        ),
        count=own_words(count_in_words(cell.evidence or Evidence(), rung.rule)),
        said=_said(cell, own, club.unit),
        rule=rule_in_words(rung.rule),
        looks=look_in_words(rung.rule),
        robot=own.robot if own else None,
        check=_check(cell),
        calibrated_at=own.calibrated_at if own else None,
        marks=list(ChangeMark.objects.standing().filter(team=team).of_tier(tier).select_related("by__user")[:MARKS]),
        change_form=ChangeForm(),
    )


def _check(cell: BoardCell) -> tuple[str, str] | None:
    """What to measure when the same miss comes again and again."""
    if cell.found is None or cell.found.kind != "same_miss" or cell.evidence is None:
        return None
    kind, words = CHECKS.get(cell.evidence.strip[-1].cause, ("", ""))
    return (kind, str(words)) if kind else None


def _said(cell: BoardCell, held: HeldRobot | None, unit: str) -> list[str]:
    """What the runs say, as every page has it."""
    if held is None or not cell.is_open:
        return []
    says, landing = cell.says, cell.says.landing_in_words(unit)
    if not says.runs:
        return [_("No run of a known plan yet with %(robot)s as it is now.") % {"robot": isolated(held.robot.name)}]
    clean = ngettext(
        "%(runs)s of a known plan with %(robot)s as it is now was clean.",
        "%(runs)s of a known plan with %(robot)s as it is now were clean.",
        says.runs,
    ) % {"runs": own_words(says.clean_in_words), "robot": isolated(held.robot.name)}
    if not landing:
        return [clean]
    return [clean, _("On average the robot %(landing)s.") % {"landing": own_words(landing)}]


def _counts_with(held: HeldRobot | None, now: dt.datetime) -> Callable[[Attempt], bool]:
    """Whether a run counts for what the runs say, as ``AttemptQuerySet.since_change`` has it."""
    since = held.last_changed(now) if held else None

    def counts(run: Attempt) -> bool:
        if held is None or run.robot_id != held.robot.pk or run.plan_number is None:
            return False
        return since is None or run.made_at >= since

    return counts


def _plot(runs: Sequence[Attempt], counts: Callable[[Attempt], bool], rung: BoardTier, unit: str) -> Plot | None:
    said = {run.pk for run in [run for run in runs if counts(run)][:LAST]}
    measured = [
        LoggedLanding(
            run.lateral_mm, run.along_mm, run.success, date_format(run.made_at, "TWO_DIGIT_DAY_FORMAT"), run.pk in said
        )
        for run in reversed(runs)
        if run.lateral_mm is not None and run.along_mm is not None
    ]
    return plot_of(measured, rung.edition.version.target.get("window", {}), unit)
