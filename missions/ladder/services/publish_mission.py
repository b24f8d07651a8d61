"""Publishing: the draft becomes a version that never changes again. An impossible tier is never published."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, ConflictError, InputError
from classroom.models import Coach
from missions.editor.rules.layout import layout_problems
from missions.errors import MissionsCode
from missions.ladder.mission_file import document_of
from missions.ladder.rules.typical_robot import pushing_body, typical_nose, typical_robot
from missions.ladder.services.edit_mission import changed_words, give_title, newest_version, seen_mark
from missions.models import Mission, MissionVersion, Tier
from missions.readiness.services.evidence import refresh_tier


@dataclass(frozen=True)
class Verdict:
    """What the planner found for one tier: ``feasible`` None means that it has not answered.

    ``words`` say why, and ``code`` what kind of no it is.
    """

    feasible: bool | None
    words: str = ""
    code: str = ""


@transaction.atomic
def publish_mission(
    mission: Mission,
    *,
    coach: Coach,
    seen: str,
    verdicts: Mapping[int, Verdict],
    checked_with: str = "",
    now: dt.datetime,
) -> MissionVersion:
    """Make the draft the mission's published version.

    Parameters
    ----------
    seen
        Mark of the draft that ``verdicts`` were found for.
    verdicts
        By primary key of the draft's tiers.
    checked_with
        Name of the robot that they were found for.

    Raises
    ------
    ConflictError
        ``changed_meanwhile``.
    InputError
        ``nothing_to_publish``, ``archived``, ``layout``, ``not_checked``, ``impossible_tier`` or ``title_taken``.
    """
    mission = Mission.objects.select_for_update().get(pk=mission.pk)
    draft = newest_version(mission)
    if mission.archived_at is not None:
        raise InputError(MissionsCode.ARCHIVED, _("This mission is put away. Bring it back first."))
    if draft.published_at is not None:
        raise InputError(MissionsCode.NOTHING_TO_PUBLISH, _("There is no draft to publish. Edit the mission first."))
    if seen_mark(draft) != seen:
        raise ConflictError(ClassroomCode.CHANGED_MEANWHILE, changed_words(draft))
    document = document_of(draft, typical_nose(mission.club))
    body = pushing_body(typical_robot(mission.club))
    for problem in layout_problems(document, body, mission.club.unit):
        if problem.stops:
            raise InputError(MissionsCode.LAYOUT, problem.words)
    for row in draft.tier_versions.select_related("tier").order_by("order"):
        verdict = verdicts.get(row.tier_id, Verdict(None))
        if verdict.feasible is None:
            unchecked = _("“%(tier)s” has not been checked yet. Check that it can be done first.")
            words = verdict.words or unchecked % {"tier": row.name}
            raise InputError(MissionsCode.NOT_CHECKED, words)
        if not verdict.feasible:
            raise InputError(
                MissionsCode.IMPOSSIBLE_TIER,
                (_("“%(tier)s” cannot be done as drawn. %(why)s") % {"tier": row.name, "why": verdict.words}).strip(),
            )
    draft.published_at, draft.checked_with = now, checked_with
    draft.save(update_fields=["published_at", "checked_with"])
    _show(draft, now)
    # The new version may judge by another bar: the board says so at once, not with the next run.
    for tier in Tier.objects.select_related("mission__club").filter(versions__version=draft):
        refresh_tier(tier, now)
    note_in_audit(mission.club, coach, "mission_published", f"mission:{mission.pk} v{draft.number}", now=now)
    mission.club.touch()
    return draft


def _show(version: MissionVersion, now: dt.datetime) -> None:
    """The title and the ladder as everybody sees them become this version's; what it leaves out goes to the end."""
    mission = version.mission
    if mission.title != version.title:
        give_title(mission, version.title)
    mission.tiers.update(order=F("order") + 1000)  # out of the way: an order is given once per mission
    rows = list(version.tier_versions.select_related("tier"))
    for row in rows:
        row.tier.order, row.tier.name, row.tier.left_out_at = row.order, row.name, None
        row.tier.save(update_fields=["order", "name", "left_out_at"])
    others = mission.tiers.exclude(pk__in=[row.tier_id for row in rows])
    for order, tier in enumerate(others, start=len(rows) + 1):
        tier.order, tier.left_out_at = order, tier.left_out_at or now
        tier.save(update_fields=["order", "left_out_at"])
