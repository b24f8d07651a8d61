"""Drafts: a mission is started, and its one draft is saved. Published versions are never touched."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils.translation import gettext as _

from classroom.club.services.audit import note_in_audit
from classroom.errors import ClassroomCode, ConflictError, InputError
from classroom.models import Club, Coach
from classroom.site.isolated import isolated
from missions.errors import MissionsCode
from missions.ladder.mission_file import Document, missing_of, more_targets_of, stored_target
from missions.ladder.rules.typical_robot import typical_nose
from missions.models import Mission, MissionVersion, Tier, TierVersion


def newest_version(mission: Mission) -> MissionVersion:
    """The draft when there is one, else the version last published."""
    return mission.versions.select_related("mission__club", "edited_by__user").order_by("-number")[0]


def seen_mark(version: MissionVersion) -> str:
    """What a form remembers of the version it was made from; another mark means that somebody saved since."""
    return f"{version.number}:{version.edited_at.isoformat()}:{'p' if version.published_at else 'd'}"


def published_tiers(mission: Mission) -> set[int]:
    """Keys of the tiers that teams have seen; these keep their kind."""
    seen = TierVersion.objects.filter(tier__mission=mission).exclude(version__published_at=None)
    return set(seen.values_list("tier_id", flat=True))


def last_published(mission: Mission) -> dict[int, TierVersion]:
    """Every tier that teams have seen, as it was last published, by its key; offered or left out by now."""
    rows = TierVersion.objects.last_published().filter(tier__mission=mission).order_by("tier__order")
    return {row.tier_id: row for row in rows}


@transaction.atomic
def start_mission(club: Club, coach: Coach, document: Document, *, now: dt.datetime) -> Mission:
    """A new mission whose first draft is ``document``.

    Raises
    ------
    InputError
        ``title_taken``.
    """
    last = Mission.objects.filter(club=club).order_by("-order").first()
    mission = Mission(club=club, order=last.order + 1 if last else 0)
    give_title(mission, document["title"])
    _write_draft(mission, MissionVersion(mission=mission, number=1), document, [], coach, now)
    note_in_audit(club, coach, "mission_started", f"mission:{mission.pk}", now=now)
    club.touch()
    return mission


@transaction.atomic
def save_draft(
    mission: Mission, document: Document, tier_ids: Sequence[int | None], *, coach: Coach, seen: str, now: dt.datetime
) -> MissionVersion:
    """Write the mission's draft, making the next version's when the newest is published.

    Parameters
    ----------
    tier_ids
        For each tier of the document the tier it was before, None for a new one.
    seen
        :func:`seen_mark` of the version that the writer was shown.

    Raises
    ------
    ConflictError
        ``changed_meanwhile``: somebody saved or published since; nothing was written.
    InputError
        ``title_taken`` or ``archived``.
    """
    mission = Mission.objects.select_for_update().get(pk=mission.pk)
    if mission.archived_at is not None:
        raise InputError(MissionsCode.ARCHIVED, _("This mission is put away. Bring it back first, then save again."))
    newest = newest_version(mission)
    if seen_mark(newest) != seen:
        raise ConflictError(ClassroomCode.CHANGED_MEANWHILE, changed_words(newest))
    _try_title(mission, document["title"])
    draft = newest if newest.published_at is None else MissionVersion(mission=mission, number=newest.number + 1)
    _write_draft(mission, draft, document, tier_ids, coach, now)
    mission.club.touch()
    return draft


def changed_words(newest: MissionVersion) -> str:
    who = str(newest.edited_by) if newest.edited_by else _("Somebody")
    published = _(
        "%(who)s published another version of this mission while you were editing. Nothing of yours is lost: it is still in "
        "the form. Compare below, then choose."
    )
    saved = _(
        "%(who)s saved another version of this mission while you were editing. Nothing of yours is lost: it is still in the "
        "form. Compare below, then choose."
    )
    return (published if newest.published_at else saved) % {"who": isolated(who)}


def _try_title(mission: Mission, title: str) -> None:
    """A draft's title is the mission's own only once it is published, or while nothing is; taken is taken at once."""
    if title == mission.title:
        return
    if not mission.versions.exclude(published_at=None).exists():
        give_title(mission, title)
    elif Mission.objects.active().filter(club=mission.club, title=title).exists():
        raise InputError(MissionsCode.TITLE_TAKEN, _taken_words(title))


def give_title(mission: Mission, title: str) -> None:
    """The database has the last word on whose title it is, also between two who save at the same moment."""
    mission.title = title
    try:
        with transaction.atomic():
            mission.save()
    except IntegrityError as error:
        raise InputError(MissionsCode.TITLE_TAKEN, _taken_words(title)) from error


def _taken_words(title: str) -> str:
    return _("There is already a mission called “%(title)s”. Choose another title.") % {"title": isolated(title)}


def _write_draft(
    mission: Mission,
    draft: MissionVersion,
    document: Document,
    tier_ids: Sequence[int | None],
    coach: Coach,
    now: dt.datetime,
) -> None:
    for key in ("title", "summary", "brief", "did_you_know", "questions", "setup_steps", "safety_notes", "margin_mm"):
        setattr(draft, key, document[key])
    draft.width_mm, draft.depth_mm = document["table"]["width_mm"], document["table"]["depth_mm"]
    draft.missing = missing_of(document)
    draft.base, draft.start = document["base"], document["start"]
    draft.target = stored_target(document["target"], typical_nose(mission.club))
    draft.edited_at, draft.edited_by = now, coach
    draft.save()
    tiers = _tiers_of(mission, document, tier_ids)
    draft.tier_versions.exclude(tier__in=tiers).delete()
    draft.tier_versions.update(order=F("order") + 1000)  # out of the way: an order is given once per version
    kept = ("name", "obstacles", "keep_outs", "time_limit_s", "criteria", "rule")
    for order, (tier, content) in enumerate(zip(tiers, document["tiers"], strict=True), start=1):
        fields = {"order": order} | {key: content[key] for key in kept}
        fields |= {"more_targets": more_targets_of(content), "any_order": content.get("order") == "any"}
        TierVersion.objects.update_or_create(version=draft, tier=tier, defaults=fields)
    mission.tiers.filter(versions=None).delete()


def _tiers_of(mission: Mission, document: Document, tier_ids: Sequence[int | None]) -> list[Tier]:
    """The rows of the document's tiers. A tier keeps its identity, and all that teams see of it once it was published.

    A tier that was never published stands after all others until it is.
    """
    known = {tier.pk: tier for tier in mission.tiers.all()}
    published = published_tiers(mission)
    last = max((tier.order for tier in known.values()), default=0)
    found: list[Tier] = []
    ids = [*tier_ids, *[None] * len(document["tiers"])]
    for content, pk in zip(document["tiers"], ids, strict=False):
        tier = known.pop(pk, None) if pk is not None else None
        if tier is None:
            last += 1
            tier = Tier(mission=mission, order=last)
        if tier.pk not in published:
            tier.kind, tier.name = content["kind"], content["name"]
            tier.save()
        found.append(tier)
    return found
