"""The support site's door: that of the coaches with its second step; what is looked at and changed is told.

Support looks at every club's records. It changes one only after it has given a reason, for a while, and every change and
its reason stand in that club's own log, where its lead coaches read them.
"""

from __future__ import annotations

import logging
from typing import Any

from allauth.account.authentication import get_authentication_records
from allauth.mfa.utils import is_mfa_enabled
from django import forms
from django.contrib import admin, messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from config.support.reason import give_reason, reason_given, take_reason_back
from config.support.told import ToldChanges

log = logging.getLogger("helmroom.support")


class ReasonForm(forms.Form):
    reason = forms.CharField(
        label=gettext_lazy("Why something has to be changed"),
        min_length=10,
        max_length=80,
        help_text=gettext_lazy(
            "Who asked for it, and what for. The club's lead coaches read it in their log. Name no child."
        ),
    )


def second_step_taken(request: HttpRequest) -> bool:
    """Whether this very sign-in went through the second step, and it is still switched on."""
    taken = any(record.get("method") == "mfa" for record in get_authentication_records(request, request.user))
    return taken and is_mfa_enabled(request.user)


class SupportSite(admin.AdminSite):
    site_header = site_title = gettext_lazy("helmroom support")
    index_title = gettext_lazy("Records of all clubs")

    def register(self, model_or_iterable: Any, admin_class: Any = None, **options: Any) -> None:
        """Whoever registers it, also a library: read-only without a reason, and told."""
        base = admin_class or admin.ModelAdmin
        super().register(model_or_iterable, type(f"Told{base.__name__}", (ToldChanges, base), {}), **options)

    def has_permission(self, request: HttpRequest) -> bool:
        return super().has_permission(request) and second_step_taken(request)

    def admin_view(self, view: Any, cacheable: bool = False) -> Any:
        guarded = super().admin_view(view, cacheable)

        def told(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            answer = guarded(request, *args, **kwargs)
            if request.user.is_authenticated:
                log.info("user:%s %s %s %s", request.user.pk, request.method, request.path, answer.status_code)
            return answer

        return told

    def login(self, request: HttpRequest, extra_context: dict[str, Any] | None = None) -> HttpResponse:
        """No door of its own: whoever is nobody yet signs in where coaches do, with its throttle and its log."""
        if not request.user.is_authenticated:
            return redirect(f"{reverse('account_login')}?next={reverse('admin:index')}")
        if not super().has_permission(request):
            raise PermissionDenied(_("Support's pages are for whoever looks after the server."))
        if self.has_permission(request):
            return redirect("admin:index")
        if is_mfa_enabled(request.user):
            words = _("Support's pages need the second step. Sign out, and in again with your code.")
        else:
            words = _("Support's pages need a second step. Set it up here, then sign out and in again.")
        messages.error(request, words)
        return redirect("mfa_index")

    def password_change(self, request: HttpRequest, extra_context: dict[str, Any] | None = None) -> Any:
        return redirect("account_change_password")

    def get_urls(self) -> list[Any]:
        return [path("reason/", self.admin_view(self.reason), name="reason"), *super().get_urls()]

    def index(self, request: HttpRequest, extra_context: dict[str, Any] | None = None) -> Any:
        if words := reason_given(request):
            said = _("You may change records for half an hour, because: {reason} <a href='{address}'>Look only</a>")
            messages.warning(request, format_html(said, reason=words, address=reverse("admin:reason")))
        else:
            said = _("You look and change nothing. <a href='{address}'>Give a reason</a> to change something.")
            messages.info(request, format_html(said, address=reverse("admin:reason")))
        return super().index(request, extra_context)

    def reason(self, request: HttpRequest) -> HttpResponse:
        """POST gives a reason, or with ``end`` takes it back."""
        if request.method == "POST" and "end" in request.POST:
            take_reason_back(request)
            return redirect("admin:index")
        form = ReasonForm(request.POST or None)
        if form.is_valid():
            give_reason(request, form.cleaned_data["reason"])
            log.warning("user:%s may change records for half an hour", request.user.pk)
            return redirect("admin:index")
        context = {"form": form, "reason": reason_given(request)}
        return render(request, "config/support/reason_page.html", context, status=422 if form.is_bound else 200)
