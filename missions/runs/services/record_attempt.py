"""Runs come in: once each, whatever the network does; corrected by a later row, withdrawn but never deleted."""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from classroom.club.services.audit import Actor, note_in_audit
from classroom.errors import ConflictError, InputError
from classroom.models import TabletSession, Team
from missions.errors import MissionsCode
from missions.models import Attempt, Cause, Progress, ProgressState, TierVersion
from missions.readiness.services.evidence import refresh_evidence
from missions.runs.services.run_context import context_of_run
from missions.runs.services.trials import TrialInput, keep_trial

LONGEST_RUN_S = 3600
# A tablet's clock may be in the wrong time zone; a year off it is broken.
CLOCK_AHEAD = dt.timedelta(days=1)
CLOCK_BEHIND = dt.timedelta(days=366)


@dataclass(frozen=True)
class AttemptInput:
    """A run as its team tells it. ``outcomes`` answers every criterion of the tier, by its key.

    ``made_at`` has been put right by what the tablet knew of its clock; ``clock_ahead_s`` is by how much, so that the
    tablet's own reading stays known. ``said_at`` is that reading where only the batch told how wrong the clock is: a
    second batch tells it a little otherwise, and the run is the same.
    """

    uuid: UUID
    tier_id: int
    made_at: dt.datetime
    duration_s: float | None
    outcomes: Mapping[str, bool]
    lateral_mm: float | None = None
    along_mm: float | None = None
    heading_error_deg: float | None = None
    cause: str = ""
    change_to_try: str = ""
    note: str = ""
    plan_number: int | None = None
    clock_ahead_s: float = 0.0
    said_at: dt.datetime | None = None
    at_target: int = 0
    said_before: Mapping[str, Any] | None = None
    trial: TrialInput | None = None
    next_trial: TrialInput | None = None

    def digest(self) -> str:
        """Of everything that was sent: a second send with the same digest is the same run."""
        body = dataclasses.asdict(self) | {"made_at": self.made_at.isoformat(), "outcomes": dict(self.outcomes)}
        for name in ("said_before", "trial", "next_trial"):  # a run without them is the run that it always was
            if body[name] is None:
                del body[name]
        if (said_at := body.pop("said_at")) is not None:
            body |= {"made_at": said_at.isoformat(), "clock_ahead_s": 0.0}
        if not self.at_target:  # as runs were digested before there were several targets
            del body["at_target"]
        return hashlib.sha256(json.dumps(body, sort_keys=True, default=str).encode()).hexdigest()


def record_attempt(
    team: Team, run: AttemptInput, *, now: dt.datetime, tablet: TabletSession | None = None
) -> tuple[Attempt, bool]:
    """Keep a run of ``team``; the second value says whether it was new.

    Raises
    ------
    ConflictError
        ``same_key_other_body`` when this key came before with something else in it, ``key_taken`` when the key cannot
        be used.
    InputError
        ``tier_not_open``, ``bad_clock``, ``bad_time``, ``time_missing``, ``criteria_differ``, ``bad_miss``,
        ``unknown_cause``, ``too_long``, ``bad_plan``, ``no_such_target``.
    """
    with transaction.atomic():
        if (known := _already_sent(team, run)) is not None:
            return known, False
        check_plain(run, now)
        progress = _open_progress(team, run)
        edition = _edition_of(run)
        return _keep(team, run, progress, edition, now, tablet)


def correct_attempt(
    attempt: Attempt, run: AttemptInput, *, now: dt.datetime, by: Actor, tablet: TabletSession | None = None
) -> tuple[Attempt, bool]:
    """Put a new row in the place of ``attempt``. The run was made when it was made: its time stays.

    Raises
    ------
    ConflictError
        As ``record_attempt``; ``already_corrected``, ``already_withdrawn``.
    InputError
        As ``record_attempt``; ``other_tier``.
    """
    team = attempt.team
    with transaction.atomic():
        if (known := _already_sent(team, run)) is not None:
            return known, False
        check_plain(run, now)
        if run.tier_id != attempt.tier_id:
            raise InputError(
                MissionsCode.OTHER_TIER, _("A correction stays on its tier. Withdraw this run and log it on the other.")
            )
        progress = _progress(team, attempt.tier_id)
        standing = Attempt.objects.select_for_update().get(pk=attempt.pk)
        _still_stands(standing)
        new, made = _keep(team, run, progress, _edition_of(run), now, tablet, in_place_of=standing)
        note_in_audit(team.club, by, "corrected a run", f"attempt:{standing.pk}", now=now)
        return new, made


def withdraw_attempt(attempt: Attempt, *, now: dt.datetime, by: Actor) -> Attempt:
    """Take a run out of what counts; it stays on record. The evidence is worked out anew without it."""
    with transaction.atomic():
        progress = _progress(attempt.team, attempt.tier_id)
        standing = Attempt.objects.select_for_update().get(pk=attempt.pk)
        _still_stands(standing)
        standing.withdrawn_at = now
        standing.save(update_fields=["withdrawn_at"])
        refresh_evidence(progress, now)
        note_in_audit(attempt.team.club, by, "withdrew a run", f"attempt:{attempt.pk}", now=now)
        attempt.team.club.touch()
    return standing


def is_success(edition: TierVersion, outcomes: Mapping[str, bool], duration_s: float | None) -> bool:
    """Every criterion met, and within the time limit where there is one."""
    met = all(outcomes[criterion["key"]] for criterion in edition.criteria)
    if edition.time_limit_s is None:
        return met
    return met and duration_s is not None and duration_s <= edition.time_limit_s


def check_plain(run: AttemptInput, now: dt.datetime) -> None:
    """What can be said of a run without looking anything up."""
    if run.made_at.tzinfo is None or not now - CLOCK_BEHIND <= run.made_at <= now + CLOCK_AHEAD:
        raise InputError(
            MissionsCode.BAD_CLOCK,
            _("This run says it was made on %(day)s. Set the tablet's date and time and log it again.")
            % {"day": date_format(run.made_at, "DATE_FORMAT")},
        )
    if run.duration_s is not None and not _within(run.duration_s, 0, LONGEST_RUN_S, low_open=True):
        raise InputError(
            MissionsCode.BAD_TIME, _("A run takes more than 0 seconds and at most an hour. Correct its time.")
        )
    for value, limit in ((run.lateral_mm, 5000), (run.along_mm, 5000), (run.heading_error_deg, 180)):
        if value is not None and not _within(value, -limit, limit):
            raise InputError(
                MissionsCode.BAD_MISS,
                _("A miss is measured from the target: at most 5 m, at most 180°. Measure again."),
            )
    if run.cause and run.cause not in Cause.values:
        raise InputError(MissionsCode.UNKNOWN_CAUSE, _("Choose the cause from the list, or “Something else”."))
    if len(run.change_to_try) > 200 or len(run.note) > 300:
        raise InputError(
            MissionsCode.TOO_LONG, _("Shorten the words: 200 letters for the change to try, 300 for the note.")
        )
    if run.plan_number is not None and not 0 < run.plan_number < 1_000_000:
        raise InputError(MissionsCode.BAD_PLAN, _("Plans are numbered from 1. Choose the plan that you ran, or none."))


def _within(value: Any, low: float, high: float, *, low_open: bool = False) -> bool:
    number = isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)
    return number and (low < value if low_open else low <= value) and value <= high


def _already_sent(team: Team, run: AttemptInput) -> Attempt | None:
    known = Attempt.objects.filter(uuid=run.uuid).first()
    if known is None:
        return None
    if known.team_id != team.pk:
        raise ConflictError(MissionsCode.KEY_TAKEN, _("This key cannot be used. Log the run again; it gets a new one."))
    if known.body_digest != run.digest():
        raise ConflictError(
            MissionsCode.SAME_KEY_OTHER_BODY,
            _("A run with this key is kept already and says something else. To change it, correct that run."),
        )
    return known


def _progress(team: Team, tier_id: int) -> Progress:
    """The team's row in the tier, held until the end of the transaction so that evidence is updated in turn."""
    held = Progress.objects.select_for_update(of=("self",)).select_related("tier")
    progress = held.filter(team=team, tier=tier_id).first()
    if progress is None:
        raise InputError(
            MissionsCode.TIER_NOT_OPEN, _("This tier is not open for your team. Ask your coach to open it.")
        )
    progress.team = team
    return progress


def _open_progress(team: Team, run: AttemptInput) -> Progress:
    progress = _progress(team, run.tier_id)
    if progress.state == ProgressState.NOT_OPEN:
        # Made while it was open, sent after a coach had closed it: what a tablet accepted is not lost.
        then = progress.changes.filter(at__lte=run.made_at).first()
        if then is None or then.to_state == ProgressState.NOT_OPEN:
            raise InputError(
                MissionsCode.TIER_NOT_OPEN, _("This tier is not open for your team. Ask your coach to open it.")
            )
    return progress


def _edition_of(run: AttemptInput) -> TierVersion:
    """The version that the team had before it: in force when the run was made, if its criteria are the answered ones."""
    published = TierVersion.objects.filter(tier=run.tier_id).exclude(version__published_at=None)
    editions = list(published.select_related("version").order_by("-version__number"))
    answered = {key for key, yes in run.outcomes.items() if isinstance(yes, bool)}
    if len(answered) == len(run.outcomes):
        # A page that was loaded before the coach published a newer version still sends the older one's criteria.
        in_force_first = sorted(editions, key=lambda e: e.version.published_at > run.made_at)  # type: ignore[operator]
        for edition in in_force_first:
            if {criterion["key"] for criterion in edition.criteria} == answered:
                if edition.time_limit_s is not None and run.duration_s is None and all(run.outcomes.values()):
                    raise InputError(
                        MissionsCode.TIME_MISSING, _("This tier is against the clock. Enter the time of the run.")
                    )
                return edition
    raise InputError(
        MissionsCode.CRITERIA_DIFFER, _("Answer every question of this tier with yes or no; load the page again first.")
    )


def _still_stands(attempt: Attempt) -> None:
    if attempt.withdrawn_at is not None:
        raise ConflictError(MissionsCode.ALREADY_WITHDRAWN, _("This run was taken out. Load the list again."))
    if attempt.replaced_by_id is not None:
        raise ConflictError(
            MissionsCode.ALREADY_CORRECTED, _("This run was corrected before. Load the list again and correct that.")
        )


def _keep(
    team: Team,
    run: AttemptInput,
    progress: Progress,
    edition: TierVersion,
    now: dt.datetime,
    tablet: TabletSession | None,
    in_place_of: Attempt | None = None,
) -> tuple[Attempt, bool]:
    made_at = in_place_of.made_at if in_place_of else run.made_at
    session, robot, calibration = context_of_run(team, min(made_at, now))
    trial = keep_trial(team, run.tier_id, run.trial, now=now) if run.trial else None
    if run.next_trial:
        keep_trial(team, run.tier_id, run.next_trial, now=now)
    try:
        with transaction.atomic():
            attempt = Attempt.objects.create(
                uuid=run.uuid,
                team=team,
                tier_id=run.tier_id,
                tier_version=edition,
                session=session,
                robot=robot,
                calibration=calibration,
                tablet=tablet,
                plan_number=None if run.trial else run.plan_number,
                trial=trial,
                clock_ahead_s=run.clock_ahead_s,
                made_at=made_at,
                received_at=now,
                duration_s=run.duration_s,
                outcomes=dict(run.outcomes),
                success=is_success(edition, run.outcomes, run.duration_s),
                lateral_mm=run.lateral_mm,
                along_mm=run.along_mm,
                heading_error_deg=run.heading_error_deg,
                at_target=_measured_at(run, edition),
                cause=run.cause,
                change_to_try=_plain(run.change_to_try),
                note=_plain(run.note),
                said_before=dict(run.said_before) if run.said_before else None,
                body_digest=run.digest(),
            )
    except IntegrityError:
        # The same key came in at the same moment on another connection.
        if (known := _already_sent(team, run)) is None:
            raise
        return known, False
    if in_place_of is not None:
        in_place_of.replaced_by = attempt
        in_place_of.save(update_fields=["replaced_by"])
    is_first = progress.last_run_at is None
    refresh_evidence(progress, now, newest=None if in_place_of else attempt)
    team.club.touch(is_news=is_first)  # it says which tier the team is on now; further runs tell no tablet anything
    return attempt, True


def _measured_at(run: AttemptInput, edition: TierVersion) -> int:
    if not 0 <= run.at_target < len(edition.targets):
        raise InputError(
            MissionsCode.NO_SUCH_TARGET,
            _("Choose the target where you measured from the list; load the page again first."),
        )
    measured = (run.lateral_mm, run.along_mm, run.heading_error_deg)
    return run.at_target if any(value is not None for value in measured) else 0


def _plain(words: str) -> str:
    """Without control characters, which a database may refuse."""
    return "".join(letter for letter in words if letter.isprintable()).strip()
