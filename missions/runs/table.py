"""The table of a club's runs, for a spreadsheet. No child is named in it."""

from __future__ import annotations

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from classroom.models import Club
from classroom.records.club_tables import Cells, ClubTable, in_club_time
from classroom.site.lazily import lazily as _
from missions.models import Attempt, PlanTry, TierVersion

COLUMNS = (
    _("Run at"), _("Team"), _("Mission"), _("Version"), _("Task"),
    _("Robot"), _("Plan"), _("Try"), _("Clean"), _("Seconds"),
    _("To the left (mm)"), _("Too far (mm)"), _("Turned to the left (°)"), _("Target"), _("Cause"),
    _("Change to try"), _("Note"), _("Seen"), _("Not seen"), _("Counts"),
)  # fmt: skip


def run_rows(club: Club) -> Iterator[Cells]:
    """Every run, oldest first, also those that no longer count: the last column says why."""
    zone = ZoneInfo(club.time_zone)
    editions = {
        edition.pk: edition
        for edition in TierVersion.objects.filter(tier__mission__club=club).select_related("version")
    }
    words_of = {pk: {each["key"]: each["words"] for each in edition.criteria} for pk, edition in editions.items()}
    tries = {trial.pk: str(trial) for trial in PlanTry.objects.filter(team__club=club)}
    runs = Attempt.objects.filter(team__club=club).select_related("team", "robot").order_by("made_at", "pk")
    for run in runs.iterator():
        edition, words = editions[run.tier_version_id], words_of[run.tier_version_id]
        seen = {met: "; ".join(words.get(k, k) for k, v in run.outcomes.items() if v is met) for met in (True, False)}
        yield (
            in_club_time(run.made_at, zone),
            run.team.name,
            edition.version.title,
            edition.version.number,
            edition.name,
            run.robot.name if run.robot else None,
            run.plan_number,
            tries.get(run.trial_id or 0),
            run.success,
            run.duration_s,
            run.lateral_mm,
            run.along_mm,
            run.heading_error_deg,
            run.at_target + 1,
            run.get_cause_display() if run.cause else None,
            run.change_to_try,
            run.note,
            seen[True],
            seen[False],
            _counts(run),
        )


def _counts(run: Attempt) -> str:
    if run.withdrawn_at:
        return str(_("taken out"))
    return str(_("corrected by a later row") if run.replaced_by_id else _("yes"))


RUNS_TABLE = ClubTable(
    "runs",
    _("Runs"),
    _("A row for each run of each team, also those that were corrected or taken out. No child is named in it."),
    COLUMNS,
    run_rows,
)
