"""What a tablet kept while there was no network comes in: each item on its own, each of them once.

An item says what to ``do``: ``log`` a run, ``change`` the run ``of`` another key, ``withdraw`` the run ``of`` a key.
Sent again with the same body it gets the same answer; with another body it is refused and nothing changes.
"""

from __future__ import annotations

import datetime as dt
import json
import logging
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any
from uuid import UUID, uuid5

from django.db import InterfaceError, OperationalError
from django.http import Http404
from django.utils.translation import gettext as _

from classroom.access import TeamSeat
from classroom.club.services.audit import actor_label
from classroom.errors import ConflictError, HelmroomError, InputError
from classroom.models import AuditEntry
from classroom.site.database_away import is_away, is_locked
from missions.access import get_own_attempt
from missions.errors import MissionsCode
from missions.models import Attempt
from missions.runs.forms import RunForm
from missions.runs.services.record_attempt import AttemptInput, correct_attempt, record_attempt, withdraw_attempt
from missions.runs.services.trials import TrialInput

MOST_ITEMS = 100
MOST_FIELDS = 60
LEAST_AHEAD_S = 5
KINDS = ("log", "change", "withdraw")

log = logging.getLogger("helmroom.tablet")


@dataclass(frozen=True)
class Reply:
    """What became of one item: 200 kept, 400 cannot be used, 404 no such run, 409 clash, 503 send it again."""

    uuid: str
    status: int
    code: str
    words: str

    @property
    def record(self) -> dict[str, Any]:
        return asdict(self)


@dataclass(frozen=True)
class Batch:
    """Items, and how far the tablet's clock was ahead when it sent them: for those made before anybody knew that."""

    items: list[Any]
    ahead_s: float = 0.0


def read_batch(body: bytes, seat: TeamSeat, *, now: dt.datetime) -> Batch:
    """A request's body.

    Raises
    ------
    InputError
        ``not_json``, ``not_a_batch``, ``too_many``.
    ConflictError
        ``other_team``: this tablet has been opened for another team since.
    """
    try:
        batch = json.loads(body)
    except (ValueError, RecursionError):
        raise InputError(MissionsCode.NOT_JSON, _("This is not JSON that can be read.")) from None
    if not isinstance(batch, dict) or not isinstance(batch.get("items"), list):
        raise InputError(MissionsCode.NOT_A_BATCH, _("Send an object with the team and a list of items."))
    if batch.get("team") != seat.team.pk:
        raise ConflictError(
            MissionsCode.OTHER_TEAM, _("Another team is signed in on this tablet now. Its runs wait for their own.")
        )
    if len(batch["items"]) > MOST_ITEMS:
        raise InputError(MissionsCode.TOO_MANY, _("Send at most %(most)s at a time.") % {"most": MOST_ITEMS})
    return Batch(batch["items"], _ahead(batch.get("now"), now))


def _ahead(said: Any, now: dt.datetime) -> float:
    """From the tablet's own "now"; under five seconds is the way through the network, and no clock at all is no error."""
    try:
        ahead = round((dt.datetime.fromisoformat(said) - now).total_seconds())
    except (TypeError, ValueError, OverflowError):
        return 0.0
    return float(ahead) if abs(ahead) >= LEAST_AHEAD_S else 0.0


def take_items(items: Sequence[Any], seat: TeamSeat, *, now: dt.datetime, ahead_s: float = 0.0) -> list[Reply]:
    """One reply for each. What changes a run that has to be sent again has to be sent again after it."""
    replies: list[Reply] = []
    missing: set[str] = set()
    for item in items:
        after = item.get("of") if isinstance(item, dict) else None
        if isinstance(after, str) and after in missing:
            reply = Reply(
                _key_of(item), 503, "busy_before", _("The run that this changes comes first. Both are tried again.")
            )
        else:
            reply = take_item(item, seat, now=now, ahead_s=ahead_s)
        if reply.status == 503 and reply.uuid:
            missing.add(reply.uuid)
        replies.append(reply)
    return replies


def take_item(item: Any, seat: TeamSeat, *, now: dt.datetime, ahead_s: float = 0.0) -> Reply:
    """Keep one item, or say why not. Never raises for what is in it: one bad item holds up no other.

    A database that has gone is raised: it is answered for the whole batch.
    """
    key = _key_of(item)
    try:
        _take(_checked(item), seat, now, ahead_s)
    except ConflictError as error:
        return Reply(key, 409, error.code, error.message)
    except HelmroomError as error:
        return Reply(key, 400, error.code, error.message)
    except Http404:
        return Reply(key, 404, "no_such_run", _("There is no such run of your team to change. Load the page again."))
    except (InterfaceError, OperationalError) as error:
        if is_away(error) and not is_locked(error):
            raise  # each further item would wait for it as long again; the whole batch comes again, and each once
        log.exception("database busy while taking an item")
        return Reply(key, 503, "busy", _("The club's computer is busy. It is tried again by itself."))
    except Exception:
        # A fault of ours in one item must not hold the whole queue back, and must not throw the run away either.
        log.exception("an item could not be taken")
        return Reply(key, 503, "our_fault", _("Something broke on our side. The run stays on this tablet."))
    return Reply(key, 200, "kept", _("Saved"))


def withdraw_own(seat: TeamSeat, of: UUID, *, now: dt.datetime) -> Attempt:
    """Take a run of this team back; doing it twice is doing it once."""
    attempt = _latest(get_own_attempt(seat, of))
    if attempt.withdrawn_at is None:
        withdraw_attempt(attempt, now=now, by=seat.team)
    return attempt


def change_own(seat: TeamSeat, of: UUID, run: AttemptInput, *, now: dt.datetime) -> Attempt:
    """Put another row in the place of a run of this team, or of what was put in its place since."""
    attempt = _latest(get_own_attempt(seat, of))
    return correct_attempt(attempt, run, now=now, by=seat.team, tablet=seat.tablet)[0]


def count_again(seat: TeamSeat, of: UUID, *, now: dt.datetime) -> Attempt:
    """A run that its team has taken back, as a run of its own: what was taken back stays so. Doing it twice is doing it once.

    Raises
    ------
    ConflictError
        ``taken_out`` when it was a coach who took it out.
    InputError
        As ``record_attempt``.
    """
    gone = _latest(get_own_attempt(seat, of))
    if gone.withdrawn_at is None:
        return gone
    if not taken_back_by_team(gone):
        raise ConflictError(MissionsCode.TAKEN_OUT, _("Your coach took this run out. Ask whether it should count."))
    run = AttemptInput(
        uuid=uuid5(gone.uuid, "counts again"),
        tier_id=gone.tier_id,
        made_at=gone.made_at,
        duration_s=gone.duration_s,
        outcomes=gone.outcomes,
        lateral_mm=gone.lateral_mm,
        along_mm=gone.along_mm,
        heading_error_deg=gone.heading_error_deg,
        at_target=gone.at_target,
        cause=gone.cause,
        change_to_try=gone.change_to_try,
        note=gone.note,
        plan_number=gone.plan_number,
        said_before=gone.said_before,
        trial=TrialInput(gone.trial.uuid, gone.trial.plan_number, gone.trial.words) if gone.trial else None,
        clock_ahead_s=gone.clock_ahead_s,
    )
    return record_attempt(seat.team, run, now=now, tablet=seat.tablet)[0]


def taken_back_by_team(attempt: Attempt) -> bool:
    """Whether the team itself took this run back, by the club's log."""
    if attempt.withdrawn_at is None:
        return False
    noted = AuditEntry.objects.filter(verb="withdrew a run", subject=f"attempt:{attempt.pk}", club=attempt.team.club)
    return noted.filter(actor=actor_label(attempt.team)).exists()


def _latest(attempt: Attempt) -> Attempt:
    """What stands in the place of this run now."""
    while attempt.replaced_by is not None:
        attempt = attempt.replaced_by
    return attempt


def _take(item: Mapping[str, Any], seat: TeamSeat, now: dt.datetime, ahead_s: float) -> None:
    do = item.get("do", "log")
    if do == "withdraw":
        withdraw_own(seat, _uuid(item.get("of")), now=now)
        return
    run = RunForm(item, unit=seat.club.unit, now=now, ahead_s=ahead_s).run()
    if do == "change":
        change_own(seat, _uuid(item.get("of")), run, now=now)
    else:
        record_attempt(seat.team, run, now=now, tablet=seat.tablet)
    return


def _checked(item: Any) -> Mapping[str, Any]:
    """A flat mapping of texts and numbers with a time of its own, or an error."""
    if not isinstance(item, dict) or item.get("do", "log") not in KINDS:
        raise InputError(
            MissionsCode.NOT_AN_ITEM, _("This is not a run. It is kept on the tablet for your coach to look at.")
        )
    plain = all(isinstance(value, (str, int, float, bool)) or value is None for value in item.values())
    if not plain or len(item) > MOST_FIELDS:
        raise InputError(MissionsCode.NOT_AN_ITEM, _("This run has parts that no run has. Log it again."))
    if item.get("do", "log") != "withdraw" and not item.get("made_at"):
        raise InputError(MissionsCode.NO_TIME, _("This run does not say when it was made. Log it again."))
    return item


def _key_of(item: Any) -> str:
    key = item.get("uuid") if isinstance(item, dict) else None
    return key[:64] if isinstance(key, str) else ""


def _uuid(text: Any) -> UUID:
    try:
        return UUID(str(text))
    except ValueError:
        raise InputError(
            MissionsCode.NO_SUCH_RUN, _("This does not say which run it changes. Load the page again.")
        ) from None
