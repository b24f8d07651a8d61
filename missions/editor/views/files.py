"""What is done with a mission as a whole: file out and in, copy, archive."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from classroom.access import as_key, require_coach
from classroom.errors import HelmroomError, InputError
from classroom.site.isolated import isolated
from missions.access import get_mission
from missions.editor.forms import ImportMissionForm
from missions.editor.pages.versions import versions_page
from missions.ladder.mission_file import document_of, file_name, write_mission
from missions.ladder.rules.typical_robot import typical_nose
from missions.ladder.services.archive_mission import (
    archive_mission,
    deletable_from,
    delete_mission,
    has_records,
    restore_mission,
)
from missions.ladder.services.copy_mission import copy_mission, start_under_free_title
from missions.ladder.services.edit_mission import newest_version


@require_GET
def mission_export(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request)
    mission = get_mission(coach, pk)
    document = document_of(newest_version(mission), typical_nose(coach.club))
    response = HttpResponse(write_mission(document), content_type="application/json")
    response["Content-Disposition"] = f'attachment; filename="{file_name(mission.title)}"'
    return response


@require_GET
def mission_versions(request: HttpRequest, pk: int) -> HttpResponse:
    """Two versions side by side."""
    coach = require_coach(request)
    page = versions_page(get_mission(coach, pk), as_key(request.GET.get("a")), as_key(request.GET.get("b")))
    return render(request, "missions/editor/versions_page.html", {**page, "section": "missions"})


@require_http_methods(["GET", "POST"])
def mission_import(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    sent = request.method == "POST"
    form = ImportMissionForm(request.POST if sent else None, request.FILES if sent else None)
    if form.is_valid():
        try:
            mission = start_under_free_title(coach.club, coach, form.document, now=timezone.now())
        except InputError as error:
            form.add_error("file", error.message)
        else:
            read = _("“%(mission)s” is read in as a draft. Look it over, then publish it.")
            renamed = _(
                "“%(mission)s” is read in as a draft. The file's own title is taken. Look it over, then publish it."
            )
            words = read if mission.title == form.document["title"] else renamed
            messages.success(request, words % {"mission": isolated(mission)})
            return redirect("mission_edit", mission.pk)
    context = {"form": form, "section": "missions"}
    return render(request, "missions/editor/mission_import_page.html", context, status=422 if sent else 200)


@require_POST
def mission_copy(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    copy = copy_mission(get_mission(coach, pk), coach=coach, now=timezone.now())
    messages.success(
        request, _("This is “%(copy)s”, a draft of its own. The first mission is as it was.") % {"copy": copy}
    )
    return redirect("mission_edit", copy.pk)


@require_POST
def mission_archive(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    mission = get_mission(coach, pk)
    archive_mission(mission, coach=coach, now=timezone.now())
    messages.success(
        request,
        _("“%(mission)s” is put away. Nothing of it is lost: bring it back under “Put away”.")
        % {"mission": isolated(mission)},
    )
    return redirect("missions")


@require_http_methods(["GET", "POST"])
def mission_delete(request: HttpRequest, pk: int) -> HttpResponse:
    """The second step after taking away: for good, and only with the title typed."""
    coach = require_coach(request, to_change=True)
    mission = get_mission(coach, pk)
    wrong = ""
    if request.method == "POST":
        try:
            delete_mission(mission, request.POST.get("title", ""), coach=coach, now=timezone.now())
        except HelmroomError as error:
            wrong = error.message
        else:
            messages.success(request, _("“%(mission)s” is deleted for good.") % {"mission": isolated(mission)})
            return redirect("missions")
    page = {
        "mission": mission,
        "since": deletable_from(mission),
        "now": timezone.now(),
        "has_records": has_records(mission),
        "wrong": wrong,
        "section": "missions",
    }
    return render(request, "missions/editor/mission_delete_page.html", page, status=422 if wrong else 200)


@require_POST
def mission_restore(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    mission = get_mission(coach, pk)
    try:
        restore_mission(mission, coach=coach, now=timezone.now())
        messages.success(request, _("“%(mission)s” is back.") % {"mission": isolated(mission)})
    except InputError as error:
        messages.error(request, error.message)
    return redirect("missions")
