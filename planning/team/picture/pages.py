"""What the pages of one picture show, and what goes to their script."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from classroom.models import Club
from classroom.site.figures import in_own_digits
from missions.models import TierVersion
from motion.calibration.survey_readings import PicturePlaces
from motion.picture.camera.table_fit import TablePicture
from motion.scene.records import table_outline
from motion.units import format_length
from planning.team.measured import SolvedSurvey, surveyed_objects
from planning.team.picture.carried import sign_fit
from planning.team.picture.measure import SeenTable
from planning.team.picture.standing import TAP, standings, thing_outlines


def table_for_script(edition: TierVersion) -> dict[str, Any]:
    """What is drawn over the straightened picture, and the corners that can be tapped."""
    version = edition.version
    return {
        "width": version.width_mm,
        "depth": version.depth_mm,
        "edge": table_outline(version.width_mm, version.depth_mm, version.missing),
        "things": [{"kind": kind, "name": name, "outline": line} for kind, name, line in thing_outlines(edition)],
        "corners": [
            {"field": TAP + mark, "words": words, "at": thing.outline[i]}
            for thing in surveyed_objects(edition)
            for i, (mark, words) in enumerate(thing.corners)
        ],
    }


def camera_for_script(table: TablePicture) -> dict[str, Any]:
    """How the browser finds a place of the table in the picture that it holds."""
    lens = table.camera.lens
    return {
        "focal": lens.focal_px,
        "middle": [lens.middle_u_px, lens.middle_v_px],
        "k1": lens.k1,
        "k2": lens.k2,
        "rotation": table.camera.rotation.tolist(),
        "place": table.camera.place.tolist(),
        "size": list(table.size_px),
    }


def seen_answer(club: Club, edition: TierVersion, seen: SeenTable) -> dict[str, Any]:
    """To a script that sent a picture."""
    return {
        "words": sure_words(seen, club.unit),
        "fit": sign_fit(club.pk, edition, seen),
        "camera": camera_for_script(seen.table),
    }


def sure_words(seen: SeenTable, unit: str) -> str:
    size = in_own_digits(format_length(seen.sure_to_mm, unit, decimals=1))
    return _("A place in this picture is sure to %(size)s, everywhere on the table.") % {"size": size}


def places_page(
    club: Club, edition: TierVersion, places: PicturePlaces, fix: SolvedSurvey | None, tape: int
) -> dict[str, Any]:
    return {"standings": standings(edition, places, club.unit), "fix": fix, "tape": tape, "club": club}


def places_answer(page: Mapping[str, Any]) -> dict[str, Any]:
    """To a script that sent tapped corners."""
    return {"html": render_to_string("planning/team/picture/standing_part.html", dict(page))}
