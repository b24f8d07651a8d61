"""Second steps: support may take one away whose phone is lost, and sees no secret of it."""

from __future__ import annotations

from allauth.mfa.models import Authenticator
from django.contrib import admin
from django.http import HttpRequest

admin.site.unregister(Authenticator)


@admin.register(Authenticator)
class SecondStepAdmin(admin.ModelAdmin):
    list_display = ["user", "type", "created_at", "last_used_at"]
    list_filter = ["type"]
    exclude = ["data"]
    readonly_fields = ["user", "type", "created_at", "last_used_at"]

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False
