"""A coach decides about a team in a tier: as a page of its own, or in the board's dialogue."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods
from django_htmx.http import trigger_client_event

from classroom.access import get_team, require_coach
from classroom.errors import HelmroomError
from classroom.models import Team
from classroom.site.htmx_request import HtmxHttpRequest
from missions.access import get_tier
from missions.models import Progress, ProgressState, Tier
from missions.readiness.forms.decisions import DecisionForm
from missions.readiness.services.evidence import READY, answer_now
from missions.readiness.services.progress import close_tier, hold_back, look_below, open_tier, pass_tier, reopen


@dataclass(frozen=True)
class Verb:
    """A decision in words; ``%(team)s`` and ``%(tier)s`` stand for the names."""

    act: Callable[..., Progress]
    title: Any
    button: Any
    done: Any
    css: str = "go"


VERBS = {
    "open": Verb(
        open_tier,
        gettext_lazy("Open “%(tier)s” for %(team)s"),
        gettext_lazy("Open for %(team)s"),
        gettext_lazy("“%(tier)s” is open for %(team)s now."),
    ),
    "pass": Verb(
        pass_tier,
        gettext_lazy("%(team)s pass “%(tier)s”"),
        gettext_lazy("Sign as passed"),
        gettext_lazy("%(team)s have passed “%(tier)s”."),
    ),
    "hold": Verb(
        hold_back,
        gettext_lazy("Hold %(team)s on “%(tier)s”"),
        gettext_lazy("Hold back"),
        gettext_lazy("%(team)s are held on “%(tier)s” until a coach lets go."),
    ),
    "reopen": Verb(
        reopen,
        gettext_lazy("%(team)s go back to work on “%(tier)s”"),
        gettext_lazy("Back to work"),
        gettext_lazy("%(team)s work on “%(tier)s” again."),
    ),
    "close": Verb(
        close_tier,
        gettext_lazy("Close “%(tier)s” for %(team)s"),
        gettext_lazy("Close it"),
        gettext_lazy("“%(tier)s” is closed for %(team)s."),
        "danger",
    ),
}


@require_http_methods(["GET", "HEAD", "POST"])
def decide(request: HtmxHttpRequest, team_id: int, tier_id: int, verb: str) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    team, tier = get_team(coach, team_id), get_tier(coach, tier_id)
    if verb not in VERBS:
        raise Http404
    words = {"team": team.name, "tier": tier.name}
    seen = _seen(team, tier, verb)
    told = request.POST if request.method == "POST" else None
    form = DecisionForm(
        told, below=seen["offer_pass"], needs_reason=seen["needs_reason"], initial={"pass_below": not seen["against"]}
    )
    status = 200
    if request.method == "POST" and form.is_valid():
        try:
            _act(verb, coach, team, tier, form.cleaned_data)
        except HelmroomError as error:
            form.add_error(None, error.message)
        else:
            return decided(request, VERBS[verb].done % words, f"cell-{team.pk}-{tier.pk}", tier.mission_id)
    if form.errors:
        status = 200 if request.htmx else 422
    asked = VERBS[verb]
    page = {"team": team, "tier": tier, "form": form, "css": asked.css, "section": "board", "next": _next(request)}
    page |= {"title": asked.title % words, "button": asked.button % words, **seen}
    template = "missions/readiness/decision_part.html" if request.htmx else "missions/readiness/decision_page.html"
    return render(request, template, page, status=status)


def decided(request: HtmxHttpRequest, words: str, focus: str, mission_id: int) -> HttpResponse:
    """Tell what was done: to the dialogue by an event, to a page of its own by a message on the next."""
    if request.htmx:
        return trigger_client_event(HttpResponse(status=204), "decided", {"words": words, "focus": focus})
    messages.success(request, words)
    target = _next(request)
    return redirect(target) if target else redirect("board_mission", mission_id=mission_id)


def _act(verb: str, coach: Any, team: Team, tier: Tier, told: dict[str, Any]) -> None:
    more = {"pass_below": told.get("pass_below", False)} if verb == "open" else {}
    VERBS[verb].act(coach, team, tier, told["reason"], timezone.now(), **more)


def _seen(team: Team, tier: Tier, verb: str) -> dict[str, Any]:
    """What the decision rests on, shown beside the form."""
    now = timezone.localtime()
    if verb == "open":
        below = look_below(team, tier, now)
        working = below.progress is not None and below.progress.state == ProgressState.WORKING
        name = below.tier.name if below.tier else ""
        offer = name if working else ""
        return {
            "found": below.found if working else None,
            "about": name,
            "against": below.against,
            "needs_reason": below.against,
            "offer_pass": offer,
        }
    progress = Progress.objects.select_related("team__club", "tier").filter(team=team, tier=tier).first()
    found = answer_now(progress, now) if progress else None
    against = found is not None and (
        (verb == "pass" and found.code != READY) or (verb == "hold" and found.code == READY)
    )
    needs_reason = against or verb != "pass"
    return {"found": found, "about": tier.name, "against": against, "needs_reason": needs_reason, "offer_pass": ""}


def _next(request: HtmxHttpRequest) -> str:
    asked = request.POST.get("next") or request.GET.get("next") or ""
    return asked if asked.startswith("/") and url_has_allowed_host_and_scheme(asked, allowed_hosts=None) else ""
