"""A roster from a spreadsheet: look at what each line will do, then do it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from classroom.access import as_key, require_coach
from classroom.errors import HelmroomError
from classroom.robots.forms.runs import read_upload
from classroom.site.isolated import isolated
from classroom.teams.forms import RosterForm
from classroom.teams.services.import_roster import NO_FIX, RosterFix, RosterPlan, apply_roster, plan_roster
from motion.errors import MotionError

SHOWN = 300
MOST_KB = 1000  # 5,000 lines with a few columns that are not asked for
MOST_FIXES = 900
RANK = {"skip": 0, "ask": 1, "add": 3, "twice": 4, "same": 5}


def roster(request: HttpRequest) -> HttpResponse:
    """POST ``look`` shows the plan; ``apply`` does it if it is still the plan that was looked at."""
    coach = require_coach(request, to_change=True)
    form = RosterForm(request.POST or None, request.FILES or None)
    if request.method != "POST" or not form.is_valid():
        return _page(request, form)
    try:
        upload = form.cleaned_data["file"]
        text = read_upload(upload, most_kb=MOST_KB) if upload else form.cleaned_data["text"]
        fresh = upload is not None or request.POST.get("do") not in ("again", "apply")
        chosen, fixes = (None, {}) if fresh else (_chosen(request.POST), _fixes(request.POST))
        plan = plan_roster(coach.club, text, chosen=chosen, fixes=fixes)
        if fixes and request.POST.get("were", plan.columns.mark) != plan.columns.mark:
            fixes = {}  # what the lines held was read from other columns
            plan = plan_roster(coach.club, text, chosen=chosen)
        if request.POST.get("do") == "apply" and form.cleaned_data["digest"] == plan.digest:
            added = apply_roster(coach.club, coach, plan, now=timezone.now())
            messages.success(
                request,
                ngettext("%(count)s child is added.", "%(count)s children are added.", added) % {"count": added},
            )
            return redirect("teams")
    except (HelmroomError, MotionError) as error:
        form.add_error("file" if form.cleaned_data["file"] else "text", error.message)
        return _page(request, form, status=422)
    changed = request.POST.get("do") == "apply"
    return _page(request, RosterForm(initial={"text": text, "digest": plan.digest}), plan, fixes, changed=changed)


def _chosen(post: QueryDict) -> tuple[int, int | None, bool] | None:
    """The columns that the coach has chosen, from 1 in the form; 0 is none."""
    name_at, team_at = as_key(post.get("name_at")), as_key(post.get("team_at"))
    if not name_at:
        return None
    return name_at - 1, team_at - 1 if team_at else None, post.get("head") == "on"


def _fixes(post: QueryDict) -> dict[int, RosterFix]:
    """``name-7``, ``team-7`` and ``twin-7`` (same or other) put line 7 right."""
    found: dict[int, RosterFix] = {}
    for key in list(post)[:MOST_FIXES]:
        what, _, number = key.partition("-")
        line = as_key(number)
        if not line or what not in ("name", "team", "twin"):
            continue
        fix = found.get(line, NO_FIX)
        text = post.get(key, "")
        if what == "twin":
            fix = replace(fix, other_child={"same": False, "other": True}.get(text))
        else:
            fix = replace(fix, nickname=text) if what == "name" else replace(fix, team=text)
        found[line] = fix
    return found


def _page(
    request: HttpRequest,
    form: RosterForm,
    plan: RosterPlan | None = None,
    fixes: Mapping[int, RosterFix] = MappingProxyType({}),
    *,
    changed: bool = False,
    status: int = 200,
) -> HttpResponse:
    context = {"section": "teams", "form": form, "plan": plan, "changed": changed, "fixes": fixes}
    if plan:
        # What needs a look comes first, so that a long list hides nothing.
        ordered = sorted(plan.lines, key=lambda line: (RANK[line.does] - bool(line.look), line.number))
        shown = ordered[:SHOWN]
        kept = {line: fix for line, fix in fixes.items() if line not in {each.number for each in shown}}
        context |= {"kept": kept, "lines": shown, "more": max(0, len(ordered) - SHOWN), "counts": dict(plan.counts)}
        context["plan_words"] = _plan_words(plan)
    return render(request, "classroom/teams/roster_page.html", context, status=status)


def _plan_words(plan: RosterPlan) -> str:
    """How many lines do what; the first few names of new teams."""
    counts, names = plan.counts, plan.new_teams
    adding = _("%(count)s to add") % {"count": counts["add"]}
    if names:
        shown = ", ".join(map(isolated, names[:8])) + ("…" if len(names) > 8 else "")
        adding = ngettext(
            "%(count)s to add, %(teams)s new team (%(names)s)",
            "%(count)s to add, %(teams)s new teams (%(names)s)",
            len(names),
        ) % {"count": counts["add"], "teams": len(names), "names": shown}
    return _("%(adding)s; %(same)s there already; %(twice)s twice; %(skip)s that cannot be used.") % {
        "adding": adding,
        "same": counts["same"],
        "twice": counts["twice"],
        "skip": counts["skip"],
    }
