"""Two versions of a mission side by side."""

from __future__ import annotations

from typing import Any

from missions.editor.rules.compare import document_differences
from missions.ladder.mission_file import document_of
from missions.ladder.rules.typical_robot import typical_nose
from missions.models import Mission


def versions_page(mission: Mission, one: int, other: int) -> dict[str, Any]:
    """By their numbers; unsaid or unknown ones are the newest and the one before it."""
    versions = list(mission.versions.select_related("edited_by__user").order_by("-number"))
    by_number = {version.number: version for version in versions}
    newer = by_number.get(other, versions[0])
    before = next((version for version in versions if version.number < newer.number), newer)
    older = by_number.get(one, before)
    nose = typical_nose(mission.club)
    return {
        "mission": mission,
        "versions": versions,
        "older": older,
        "newer": newer,
        "pair": (older, newer),
        "differences": document_differences(document_of(older, nose), document_of(newer, nose), mission.club.unit),
    }
