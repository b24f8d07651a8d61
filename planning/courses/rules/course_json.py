"""Actions and checks as they are kept in rows, and back. Headings as REP-103, lengths in mm; no infinities in JSON."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any

from motion.course.actions import Action, Check, Landing, Meeting, Share, Success, Touch
from motion.course.files import action_to_dict, actions_from_list
from motion.course.sentences import Sentence, keep, kept
from motion.scene.records import Pose


def actions_to_json(actions: Iterable[Action]) -> list[dict[str, Any]]:
    return [action_to_dict(action) for action in actions]


def actions_from_json(records: Sequence[dict[str, Any]], start: Pose) -> tuple[Action, ...]:
    return actions_from_list(records, start)


def check_to_json(check: Check) -> dict[str, Any]:
    """A check as a row keeps it: the room beside a wait is null, and its sentences have no language."""
    record = asdict(check)
    for each in [*record["touches"], *record["meetings"]]:
        each |= {key: keep(each[key]) for key in ("name", "message") if key in each}
    record["nearest"] = [keep(name) for name in check.nearest]
    record["room_mm"] = [_finite(room) for room in check.room_mm]
    record["clearance_mm"] = _finite(check.clearance_mm)
    return record


def check_from_json(record: dict[str, Any]) -> Check:
    return Check(
        clear=record["clear"],
        touches=tuple(_touch(each) for each in record["touches"]),
        room_mm=_rooms(record["room_mm"]),
        nearest=tuple(map(kept, record["nearest"])),
        poses=tuple(Pose(**each) for each in record["poses"]),
        duration_s=record["duration_s"],
        outbound_s=record["outbound_s"],
        return_s=record["return_s"],
        clearance_mm=math.inf if record["clearance_mm"] is None else record["clearance_mm"],
        landing=_landing(record["landing"]),
        success=_success(record["success"]),
        shares=_shares(record["shares"]),
        meetings=tuple(
            Meeting(
                target=each["target"],
                name=kept(each["name"]),
                push=each["push"],
                landing=_read_landing(each["landing"]),
                shares=_shares(each["shares"]),
                success=_success(each["success"]),
            )
            for each in record.get("meetings", ())
        ),
    )


def mend_to_json(mend: dict[str, Any] | None) -> dict[str, Any] | None:
    """What to move, as a row keeps it: its label has no language."""
    return None if mend is None else {key: keep(value) if key == "label" else value for key, value in mend.items()}


def refusal_to_json(message: str) -> dict[str, Any]:
    """Beside its English, a refusal to be said in whatever language it is read; nothing where it is English alone."""
    return {"said": keep(message)} if isinstance(message, Sentence) else {}


def _touch(record: dict[str, Any]) -> Touch:
    return Touch(**record | {key: kept(record[key]) for key in ("name", "message")})


def _landing(record: dict[str, Any] | None) -> Landing | None:
    return None if record is None else _read_landing(record)


def _read_landing(record: dict[str, Any]) -> Landing:
    (a, b), (c, d) = record["covariance_xy_mm2"]
    return Landing(**record | {"covariance_xy_mm2": ((a, b), (c, d))})


def _success(record: dict[str, Any] | None) -> Success | None:
    return Success(**record) if record else None


def _shares(records: Iterable[dict[str, Any]]) -> tuple[Share, ...]:
    return tuple(Share(**each) for each in records)


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _rooms(values: Sequence[float | None]) -> tuple[float, ...]:
    return tuple(math.inf if value is None else value for value in values)
