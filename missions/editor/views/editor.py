"""The mission editor: one page, one form; the same view answers the page and its fragments."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from classroom.access import as_key, require_coach
from classroom.errors import ConflictError, InputError
from classroom.models import Coach
from classroom.site.htmx_request import HtmxHttpRequest
from missions.access import get_mission
from missions.editor.forms import NewMissionForm
from missions.editor.pages.editor import page_of
from missions.editor.rules.compare import document_differences
from missions.editor.rules.first_document import first_document
from missions.editor.rules.reading import SheetReading, read_sheet
from missions.editor.rules.sheet import MissionSheet, sheet_from, sheet_of
from missions.editor.rules.steps import bring_back_tier, take_step
from missions.ladder.mission_file import document_of, tier_document
from missions.ladder.rules.typical_robot import typical_nose
from missions.ladder.services.edit_mission import last_published, newest_version, save_draft, seen_mark, start_mission
from missions.models import Mission


@require_http_methods(["GET", "POST"])
def mission_new(request: HtmxHttpRequest) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    form = NewMissionForm(request.POST or None, club=coach.club)
    if request.method == "POST" and form.is_valid():
        document = first_document(form.cleaned_data["title"].strip(), *form.shape())
        try:
            mission = start_mission(coach.club, coach, document, now=timezone.now())
        except InputError as error:
            form.add_error("title", error.message)
        else:
            return redirect("mission_edit", mission.pk)
    return render(request, "missions/editor/mission_new_page.html", {"form": form, "section": "missions"})


@require_http_methods(["GET", "POST"])
def mission_edit(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    mission = get_mission(coach, pk)
    if request.method == "GET":
        return _show(request, mission, _newest_sheet(mission))
    sheet = sheet_from(request.POST, coach.club.unit)
    step = request.POST.get("do", "save")
    if step == "save":
        return _save(request, coach, mission, sheet)
    return _show(request, mission, sheet, said=_step(mission, sheet, step), changed=True)


def _step(mission: Mission, sheet: MissionSheet, step: str) -> str:
    """Do a step on the sheet; bringing a tier back is the one that needs what is on record."""
    verb, _space, key = step.partition(" ")
    if verb != "bring-back":
        return take_step(sheet, step)
    row = last_published(mission).get(as_key(key))
    if row is None or row.tier_id in sheet.tier_ids:
        return ""
    later = row.version.tier_versions.filter(order__gt=row.order).values_list("tier_id", flat=True)
    return bring_back_tier(sheet, tier_document(row), row.tier_id, list(later))


@require_POST
def mission_check(request: HtmxHttpRequest, pk: int) -> HttpResponse:
    """What is wrong with the form as it stands; nothing is saved."""
    coach = require_coach(request, to_change=True)
    mission = get_mission(coach, pk)
    sheet = sheet_from(request.POST, coach.club.unit)
    page = page_of(sheet, _read(mission, sheet), coach.club)
    return render(request, "missions/editor/check_part.html", {"mission": mission, **page})


def _save(request: HtmxHttpRequest, coach: Coach, mission: Mission, sheet: MissionSheet) -> HttpResponse:
    reading = _read(mission, sheet)
    if reading.document is None:
        return _show(request, mission, sheet, reading=reading, changed=True)
    seen = request.POST.get("over") or request.POST.get("seen", "")
    try:
        save_draft(mission, reading.document, sheet.tier_ids, coach=coach, seen=seen, now=timezone.now())
    except ConflictError as error:
        newest = newest_version(mission)
        theirs = document_of(newest, typical_nose(coach.club))
        conflict = {
            "words": error.message,
            "differences": document_differences(reading.document, theirs, sheet.unit),
            "over": seen_mark(newest),
        }
        return _show(request, mission, sheet, reading=reading, changed=True, conflict=conflict, seen=seen)
    except InputError as error:
        place = "title" if error.code == "title_taken" else "form"
        return _show(request, mission, sheet, reading=SheetReading(None, {place: error.message}), changed=True)
    mission.refresh_from_db()
    if not request.htmx:
        messages.success(request, _("The draft is saved."))
        return redirect("mission_edit", mission.pk)
    saved = _newest_sheet(mission)
    for tier, fresh in zip(sheet.tiers, saved.tiers, strict=True):
        tier.pk = fresh.pk
    return _show(request, mission, sheet, reading=reading, saved=True)


def _newest_sheet(mission: Mission) -> MissionSheet:
    version = newest_version(mission)
    ids = version.tier_versions.order_by("order").values_list("tier_id", flat=True)
    return sheet_of(document_of(version, typical_nose(mission.club)), mission.club.unit, list(ids))


def _read(mission: Mission, sheet: MissionSheet) -> SheetReading:
    return read_sheet(sheet, document_of(newest_version(mission), typical_nose(mission.club)))


def _show(
    request: HtmxHttpRequest,
    mission: Mission,
    sheet: MissionSheet,
    *,
    reading: SheetReading | None = None,
    **state: Any,
) -> HttpResponse:
    """The page, or only the state of the form when a script asks. A clash is 409 on a page; a fragment is swapped."""
    version = newest_version(mission)
    seen_by_teams = last_published(mission)
    fixed = frozenset(map(str, seen_by_teams))
    page = page_of(sheet, reading or _read(mission, sheet), mission.club, fixed)
    context = {
        "mission": mission,
        "version": version,
        "seen": state.get("seen") or request.POST.get("seen") or seen_mark(version),
        "section": "missions",
        "to_bring_back": [row for pk, row in seen_by_teams.items() if pk not in sheet.tier_ids],
        **page,
        **state,
    }
    if state.get("saved"):
        context["seen"] = seen_mark(version)
    if request.htmx:
        return render(request, "missions/editor/answer_part.html", context)
    status = 409 if state.get("conflict") else 422 if page["errors"] and "said" not in state else 200
    return render(request, "missions/editor/editor_page.html", context, status=status)
