"""One child after the other: the words for each family, approved by a single press of a key where the draft is right."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from classroom.access import as_key, get_member, require_coach
from classroom.errors import HelmroomError
from classroom.families.share_summary import words_mark, write_words
from classroom.families.slips import members_now
from classroom.models import Member, Membership
from classroom.site.clash.differences import Clash
from classroom.site.clash.views import clash_or_raise, seen_by
from missions.family.drafts import due, kept_words
from missions.family.forms import WordsForm


@never_cache
def family_queue(request: HttpRequest) -> HttpResponse:
    """The next child that is due; ``after``: behind this one, which was skipped."""
    coach = require_coach(request, to_change=True)
    rows = due(coach.club, timezone.now())
    keys = [row.member_id for row in members_now(coach.club)]
    after = as_key(request.GET.get("after"))
    place = keys.index(after) if after in keys else -1
    ahead = [row for row in rows if keys.index(row.member_id) > place]
    if not ahead:
        context = {"section": "families", "children": len(keys), "left": len(rows)}
        return render(request, "missions/family/queue_done_page.html", context)
    return _page(
        request, ahead[0].member, WordsForm(initial=kept_words(ahead[0].member, now=timezone.now())), len(ahead)
    )


@never_cache
@require_POST
def family_queue_words(request: HttpRequest, pk: int) -> HttpResponse:
    """Kept, approved or not, and on to the next."""
    coach = require_coach(request, to_change=True)
    member = get_member(coach, pk)
    form = WordsForm(request.POST)
    left = len(due(coach.club, timezone.now()))
    if not form.is_valid():
        return _page(request, member, form, left, status=422)
    approve = request.POST.get("do") == "approve"
    try:
        write_words(member, coach, approve=approve, seen=seen_by(request), now=timezone.now(), **form.cleaned_data)
    except HelmroomError as error:
        clash = clash_or_raise(
            error, form, lambda: (WordsForm(initial=kept_words(member, now=timezone.now())), words_mark(member))
        )
        return _page(request, member, form, left, clash=clash, status=409)
    return redirect(f"{reverse('family_queue')}?after={member.pk}")


def _page(
    request: HttpRequest, member: Member, form: WordsForm, left: int, *, clash: Clash | None = None, status: int = 200
) -> HttpResponse:
    context = {
        "section": "families",
        "member": member,
        "membership": Membership.objects.select_related("team").filter(member=member, left_on=None).first(),
        "form": form,
        "left": left,
        "seen": seen_by(request) if form.is_bound else words_mark(member),
        "clash": clash,
        "clash_back": reverse("family_queue"),
    }
    return render(request, "missions/family/queue_page.html", context, status=status)
