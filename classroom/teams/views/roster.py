"""A roster from a spreadsheet: look at what each line will do, then do it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from classroom.access import require_coach
from classroom.errors import HelmroomError
from classroom.robots.forms.runs import read_upload
from classroom.teams.forms import RosterForm
from classroom.teams.services.import_roster import RosterPlan, apply_roster, plan_roster
from motion.errors import MotionError

SHOWN = 300
MOST_KB = 1000  # 5,000 lines with a few columns that are not asked for
RANK = {"skip": 0, "add": 2, "twice": 3, "same": 4}


def roster(request: HttpRequest) -> HttpResponse:
    """POST ``look`` shows the plan; ``apply`` does it if it is still the plan that was looked at."""
    coach = require_coach(request, to_change=True)
    form = RosterForm(request.POST or None, request.FILES or None)
    if request.method != "POST" or not form.is_valid():
        return _page(request, form)
    try:
        upload = form.cleaned_data["file"]
        text = read_upload(upload, most_kb=MOST_KB) if upload else form.cleaned_data["text"]
        plan = plan_roster(coach.club, text)
        if request.POST.get("do") == "apply" and form.cleaned_data["digest"] == plan.digest:
            added = apply_roster(coach.club, coach, plan, now=timezone.now())
            messages.success(request, f"{added} members are added.")
            return redirect("teams")
    except (HelmroomError, MotionError) as error:
        form.add_error("file" if form.cleaned_data["file"] else "text", error.message)
        return _page(request, form, status=422)
    changed = request.POST.get("do") == "apply"
    return _page(request, RosterForm(initial={"text": text, "digest": plan.digest}), plan, changed=changed)


def _page(
    request: HttpRequest, form: RosterForm, plan: RosterPlan | None = None, *, changed: bool = False, status: int = 200
) -> HttpResponse:
    context = {"section": "teams", "form": form, "plan": plan, "changed": changed}
    if plan:
        # What needs a look comes first, so that a long list hides nothing.
        ordered = sorted(plan.lines, key=lambda line: (RANK[line.does] - bool(line.look), line.number))
        context |= {"lines": ordered[:SHOWN], "more": max(0, len(ordered) - SHOWN), "counts": dict(plan.counts)}
    return render(request, "classroom/teams/roster_page.html", context, status=status)
