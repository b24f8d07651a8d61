""" "We changed something": a team on its tablet, or a coach for it, says so, and earlier runs count for less.

As after a calibration that found other numbers. A mark that was a slip is taken back by a coach; it stays on record.
"""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ConflictError, InputError, NotAllowedError
from classroom.models import Coach, Robot, Team
from classroom.robots.robot_at import robot_at
from missions.errors import MissionsCode
from missions.models import ChangedPart, ChangeMark, Progress, Tier
from missions.readiness.services.evidence import refresh_evidence

LONGEST_WORDS = 60


@transaction.atomic
def mark_change(
    team: Team, tier: Tier, part: str, words: str, now: dt.datetime, *, coach: Coach | None = None
) -> ChangeMark:
    """Keep that ``part`` was changed, now. ``tier`` says of which mission, if it was the program.

    Raises
    ------
    NotAllowedError
        ``observer``, ``other_club``.
    InputError
        ``unknown_part``, ``too_long``.
    """
    _may(coach, team)
    if tier.mission.club_id != team.club_id:
        raise NotAllowedError(MissionsCode.OTHER_CLUB, _("This team and tier are not of your club."))
    if part not in ChangedPart.values:
        raise InputError(MissionsCode.UNKNOWN_PART, _("Choose what was changed from the list, or “Something else”."))
    words = " ".join(words.split())
    if len(words) > LONGEST_WORDS:
        raise InputError(
            MissionsCode.TOO_LONG, _("Say it in %(limit_value)s letters or fewer.") % {"limit_value": LONGEST_WORDS}
        )
    mission = tier.mission if part == ChangedPart.PROGRAM else None
    mark = ChangeMark(team=team, mission=mission, part=part, words=words, at=now, by=coach)
    if mission is None:
        _mark_robot(mark)
    mark.save()
    _look_again(mark, now)
    note_in_audit(team.club, coach or team, "marked a change", f"team:{team.pk}", now=now)
    return mark


@transaction.atomic
def take_back_mark(mark: ChangeMark, coach: Coach, now: dt.datetime) -> ChangeMark:
    """It was a slip: nothing was changed then.

    Raises
    ------
    NotAllowedError
        ``observer``, ``other_club``.
    ConflictError
        ``already_taken_back``.
    """
    _may(coach, mark.team)
    mark = ChangeMark.objects.select_for_update(of=("self",)).select_related("team__club").get(pk=mark.pk)
    if mark.taken_back_at is not None:
        raise ConflictError(MissionsCode.ALREADY_TAKEN_BACK, _("This mark was taken back before. Load the page again."))
    mark.taken_back_at = now
    mark.save(update_fields=["taken_back_at"])
    _unmark_robot(mark)
    _look_again(mark, now)
    note_in_audit(mark.team.club, coach, "took back a mark of a change", f"team:{mark.team_id}", now=now)
    return mark


def _mark_robot(mark: ChangeMark) -> None:
    """What is predicted of the robot and said of its runs begins anew, as after a rebuilding."""
    robot = robot_at(mark.team, mark.at)
    if robot is None:
        return
    robot = Robot.objects.select_for_update().get(pk=robot.pk)
    if robot.changed_at < mark.at:
        mark.robot, mark.robot_changed_before = robot, robot.changed_at
        robot.changed_at = mark.at
        robot.save(update_fields=["changed_at"])


def _unmark_robot(mark: ChangeMark) -> None:
    """The robot is as it was before; a mark after this one then follows on what was before this one."""
    if mark.robot_id is None:
        return
    later = ChangeMark.objects.standing().filter(robot=mark.robot_id, robot_changed_before=mark.at)
    if not later.update(robot_changed_before=mark.robot_changed_before):
        unchanged_since = Robot.objects.filter(pk=mark.robot_id, changed_at=mark.at)
        unchanged_since.update(changed_at=mark.robot_changed_before)


def _may(coach: Coach | None, team: Team) -> None:
    if coach is not None and not coach.may_change:
        raise NotAllowedError(
            MissionsCode.OBSERVER, _("An observer looks and changes nothing. Ask a coach to do this.")
        )
    if coach is not None and coach.club_id != team.club_id:
        raise NotAllowedError(MissionsCode.OTHER_CLUB, _("This team is not of your club."))


def _look_again(mark: ChangeMark, now: dt.datetime) -> None:
    """Every tier that the mark concerns, with runs on record after it gathered anew."""
    rows = Progress.objects.select_for_update(of=("self",)).select_related("team__club", "tier").filter(team=mark.team)
    for progress in rows.filter(tier__mission=mark.mission) if mark.mission_id else rows:
        standing = ChangeMark.objects.standing().filter(team=mark.team).of_tier(progress.tier)
        progress.marked_at = standing.aggregate(newest=Max("at"))["newest"]
        progress.save(update_fields=["marked_at"])
        if progress.last_run_at is not None and progress.last_run_at >= mark.at:
            refresh_evidence(progress, now)
    mark.team.club.touch()
