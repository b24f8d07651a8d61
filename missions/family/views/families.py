"""The coach's side of the families' summaries: words, links, contacts; one child a page."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from classroom.access import get_contact, get_member, require_coach
from classroom.errors import HelmroomError
from classroom.families.letters import may_be_written_to
from classroom.families.mail_folder import what_mail_lacks
from classroom.families.share_summary import (
    approved_words,
    keep_contact,
    set_family_language,
    withdraw_consent,
    words_mark,
    write_words,
)
from classroom.models import Member, Membership, SummaryLink, SummaryWords
from classroom.site.clash.differences import Clash
from classroom.site.clash.views import clash_or_raise, seen_by
from classroom.site.isolated import isolated
from classroom.site.languages import NAMES, language_of_family
from missions.family.by_team import by_team
from missions.family.drafts import draft_words, due, kept_words
from missions.family.forms import ContactForm, FamilyLanguageForm, LinkEndForm, WordsForm
from missions.family.pages import summary_for


def families(request: HttpRequest) -> HttpResponse:
    coach = require_coach(request)
    now = timezone.now()
    open_links = SummaryLink.objects.filter(revoked_at=None, expires_at__gt=now)
    approved = SummaryWords.objects.exclude(approved_at=None).order_by("-approved_at")
    rows = (
        Membership.objects.filter(team__club=coach.club, team__archived_at=None, left_on=None)
        .select_related("member", "team")
        .prefetch_related(
            Prefetch("member__summary_links", queryset=open_links, to_attr="open_links"),
            Prefetch("member__summary_words", queryset=approved, to_attr="approved"),
        )
        .order_by("team__order", "team__name", "member__nickname")
    )
    letters = may_be_written_to(coach.club).count() if coach.may_change else 0
    undone = len(due(coach.club, now)) if coach.may_change else 0
    find = request.GET.get("find", "").strip()
    context = {
        "section": "families",
        "rows": rows,
        "teams": by_team(rows, find),
        "find": find,
        "letters": letters,
        "due": undone,
    }
    return render(request, "missions/family/families_page.html", context)


def family_member(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    return _page(request, get_member(coach, pk))


@never_cache
def _page(
    request: HttpRequest,
    member: Member,
    *,
    words_form: WordsForm | None = None,
    contact_form: ContactForm | None = None,
    clash: Clash | None = None,
    status: int = 200,
) -> HttpResponse:
    newest = SummaryWords.objects.filter(member=member).order_by("-written_at", "-pk").first()
    context = {
        "section": "families",
        "member": member,
        "membership": Membership.objects.select_related("team").filter(member=member, left_on=None).first(),
        "links": member.summary_links.select_related("contact", "created_by__user")[:20],
        "contacts": member.guardians.order_by("-consented_at").prefetch_related("letters__link"),
        "mail_lacks": what_mail_lacks(),
        "newest": newest,
        "approved": approved_words(member),
        "words_form": words_form or WordsForm(initial=kept_words(member, now=timezone.now())),
        "seen": seen_by(request) if words_form and words_form.is_bound else words_mark(member),
        "clash": clash,
        "clash_back": reverse("family_member", args=[member.pk]),
        "contact_form": contact_form or ContactForm(member=member),
        "language_form": FamilyLanguageForm(club=member.club, initial={"language": member.family_language}),
        "end_form": LinkEndForm(now=timezone.now()),
        "now": timezone.now(),
    }
    return render(request, "missions/family/member_page.html", context, status=status)


def family_preview(request: HttpRequest, pk: int) -> HttpResponse:
    """The summary just as the family sees it, without using up a link."""
    coach = require_coach(request, to_change=True)
    now = timezone.now()
    member = get_member(coach, pk)
    preview = {
        "says": _("This is what the family sees."),
        "back": _("Back to %(name)s") % {"name": isolated(member.nickname)},
        "language": translation.get_language(),
    }
    with translation.override(language_of_family(member)):
        context = {"summary": summary_for(member, now=now), "now": now, "preview": preview}
        return render(request, "missions/family/summary_page.html", context)


@require_POST
def family_reads(request: HttpRequest, pk: int) -> HttpResponse:
    """The language of a family's page, slips and drafts."""
    coach = require_coach(request, to_change=True)
    member = get_member(coach, pk)
    form = FamilyLanguageForm(request.POST, club=member.club)
    if form.is_valid():
        set_family_language(member, coach, form.cleaned_data["language"], now=timezone.now())
        messages.success(
            request, _("The family reads %(language)s now.") % {"language": NAMES[language_of_family(member)]}
        )
    else:
        messages.error(request, _("That language is not in the list. Choose one of the list."))
    return redirect("family_member", member.pk)


@require_POST
def family_words(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    member = get_member(coach, pk)
    form = WordsForm(request.POST)
    if not form.is_valid():
        return _page(request, member, words_form=form, status=422)
    approve = request.POST.get("do") == "approve"
    try:
        write_words(member, coach, approve=approve, seen=seen_by(request), now=timezone.now(), **form.cleaned_data)
    except HelmroomError as error:
        clash = clash_or_raise(
            error, form, lambda: (WordsForm(initial=kept_words(member, now=timezone.now())), words_mark(member))
        )
        return _page(request, member, words_form=form, clash=clash, status=409)
    messages.success(request, _("Approved: the family sees these words now.") if approve else _("Kept as a draft."))
    return redirect("family_member", member.pk)


@require_POST
def family_redraft(request: HttpRequest, pk: int) -> HttpResponse:
    """Sentences from the team's records of today, in the form; nothing is kept yet."""
    coach = require_coach(request, to_change=True)
    member = get_member(coach, pk)
    draft = draft_words(member, now=timezone.now())
    form = WordsForm(
        initial={name: getattr(draft, name) for name in ("learnt", "working_on", "ask_at_home", "language")}
    )
    return _page(request, member, words_form=form)


@require_POST
def family_contact(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    member = get_member(coach, pk)
    form = ContactForm(request.POST, member=member)
    if form.is_valid():
        try:
            form.cleaned_data["language"] = form.cleaned_data["language"] or language_of_family(member)
            keep_contact(member, coach, now=timezone.now(), **form.cleaned_data)
            messages.success(request, _("Kept, with the record of consent."))
            return redirect("family_member", member.pk)
        except HelmroomError as error:
            form.add_error("consented" if error.code == "no_consent" else "email", error.message)
    return _page(request, member, contact_form=form, status=422)


@require_POST
def family_contact_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    coach = require_coach(request, to_change=True)
    contact = get_contact(coach, pk)
    withdraw_consent(contact, coach, now=timezone.now())
    messages.success(request, _("Consent is withdrawn: the address is wiped and its links are ended."))
    return redirect("family_member", contact.member_id)
