"""Rows that support may look at and nobody may add, change or delete by hand."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.http import HttpRequest


class AppendOnlyAdmin(admin.ModelAdmin):
    def has_add_permission(self, request: HttpRequest, *args: Any) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False
