"""What a question from the editor is about: the form as it stands, else the newest saved version."""

from __future__ import annotations

from django.http import QueryDict

from missions.editor.rules.reading import SheetReading, read_sheet
from missions.editor.rules.sheet import MissionSheet, sheet_from, sheet_of
from missions.ladder.mission_file import document_of
from missions.ladder.rules.typical_robot import typical_nose
from missions.ladder.services.edit_mission import newest_version
from missions.models import Mission


def asked_about(mission: Mission, post: QueryDict) -> tuple[MissionSheet, SheetReading]:
    """The sheet and what was read from it; without the editor's fields in ``post``, those of the saved version."""
    saved = document_of(newest_version(mission), typical_nose(mission.club))
    if "tier" not in post:
        return sheet_of(saved, mission.club.unit), SheetReading(saved)
    sheet = sheet_from(post, mission.club.unit)
    return sheet, read_sheet(sheet, saved)
