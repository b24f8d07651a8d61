"""A coach's view of the missions: what there is, how far the teams are in each, and one mission in full."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from classroom.models import Club, SafetyCard
from classroom.site.figures import in_own_digits
from classroom.site.isolated import isolated
from missions.ladder.pages.brief import brief_html, set_up_measures
from missions.ladder.pages.chart import tier_chart
from missions.ladder.rules.typical_robot import pushing_body, robot_said, typical_robot
from missions.models import Mission, MissionVersion, Progress, TierVersion
from missions.readiness.pages.board import Board, read_board
from missions.readiness.rules.needs import ProgressRow
from missions.readiness.rules.rule_words import rule_in_words
from missions.readiness.rules.standing import BoardTier


@dataclass(frozen=True)
class TierCount:
    """How many teams are where in one tier: a sum, not a list of who is ahead."""

    name: str
    working: int
    passed: int


@dataclass(frozen=True)
class MissionLine:
    mission: Mission
    version: MissionVersion | None
    drawing: SafeString | None
    tiers: Sequence[TierCount]
    draft: bool


def list_missions(club: Club) -> tuple[list[MissionLine], list[Mission]]:
    """Those in use, and those put away."""
    missions = list(Mission.objects.filter(club=club))
    editions: dict[int, list[TierVersion]] = {}
    for edition in TierVersion.objects.in_force().filter(tier__mission__club=club):
        editions.setdefault(edition.tier.mission_id, []).append(edition)
    drafts = set(
        MissionVersion.objects.filter(mission__club=club, published_at=None).values_list("mission_id", flat=True)
    )
    counts = _counts(ProgressRow(*row) for row in Progress.objects.for_needs(club.pk))
    body = pushing_body(typical_robot(club))
    lines: list[MissionLine] = []
    for mission in missions:
        if mission.archived_at is None:
            shown = editions.get(mission.pk, [])
            drawn_before = any(line.drawing for line in lines)
            drawing = tier_chart(shown[-1], body, club.unit, again=drawn_before) if shown else None
            tiers = [TierCount(e.tier.name, *counts.get(e.tier_id, (0, 0))) for e in shown]
            version = shown[0].version if shown else None
            lines.append(MissionLine(mission, version, drawing, tiers, mission.pk in drafts))
    return lines, [mission for mission in missions if mission.archived_at is not None]


def _counts(rows: Any) -> dict[int, tuple[int, int]]:
    """(working, passed) by tier."""
    counts: dict[int, tuple[int, int]] = {}
    for row in rows:
        working, passed = counts.get(row.tier_id, (0, 0))
        counts[row.tier_id] = (working + (row.state == "working"), passed + (row.state == "passed"))
    return counts


@dataclass(frozen=True)
class MissionPage:
    mission: Mission
    version: MissionVersion
    rungs: Sequence[BoardTier]
    shown: BoardTier
    drawing: SafeString
    set_up_measures: Sequence[Any]
    rule: Sequence[str]
    brief: SafeString
    did_you_know: SafeString
    safety: SafeString
    cards: Sequence[SafetyCard]
    board: Board
    draft: bool
    changes: Sequence[str]

    @property
    def checked_with(self) -> str:
        """The robot that the version was checked with; empty where it was not."""
        return robot_said(self.version.checked_with)


def read_mission_page(club: Club, mission: Mission, now: dt.datetime, tier_id: int | None = None) -> MissionPage | None:
    """The mission as published, with one tier's map; None while there is only a draft."""
    board = read_board(club, now, mission.pk)
    if board is None or not board.rungs:
        return None
    shown = next((rung for rung in board.rungs if rung.tier.pk == tier_id), board.rungs[0])
    version = shown.edition.version
    return MissionPage(
        mission=mission,
        version=version,
        rungs=board.rungs,
        shown=shown,
        drawing=tier_chart(shown.edition, pushing_body(typical_robot(club)), club.unit),
        set_up_measures=set_up_measures(shown.edition, club.unit),
        rule=rule_in_words(shown.rule),
        brief=brief_html(version.brief),
        did_you_know=brief_html(version.did_you_know),
        safety=brief_html(version.safety_notes),
        cards=list(SafetyCard.objects.filter(club=club)),
        board=board,
        draft=mission.versions.filter(published_at=None).exists(),
        changes=_what_differs(board.rungs, shown),
    )


def _what_differs(rungs: Sequence[BoardTier], shown: BoardTier) -> list[str]:
    """What this tier has that the one below it has not, in words."""
    at = [rung.tier.pk for rung in rungs].index(shown.tier.pk)
    if at == 0:
        return []
    below, here = rungs[at - 1].edition, shown.edition
    words = []
    for fresh, before, after in (
        (_("%(name)s to push as well"), below.more_targets, here.more_targets),
        (_("%(name)s in the way"), below.obstacles, here.obstacles),
        (_("%(name)s to keep out of"), below.keep_outs, here.keep_outs),
    ):
        words += [fresh % {"name": _name(each)} for each in after if each not in before]
        words += [_("no %(name)s") % {"name": _name(each)} for each in before if each not in after]
    if here.time_limit_s != below.time_limit_s:
        words.append(
            _("a time limit of %(limit)s s") % {"limit": in_own_digits(f"{here.time_limit_s:g}")}
            if here.time_limit_s
            else _("no time limit")
        )
    before_keys = {criterion["key"] for criterion in below.criteria}
    words += [
        _("also: %(words)s") % {"words": each["words"]} for each in here.criteria if each["key"] not in before_keys
    ]
    return words


def _name(thing: dict[str, Any]) -> str:
    return isolated(thing.get("name") or _("something"))
