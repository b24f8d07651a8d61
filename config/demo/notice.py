"""For the first page: whether the demonstration is still being made."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from config.demo.half_made import is_being_made


def demonstration(request: HttpRequest) -> dict[str, Any]:
    """A function, which only the template that asks calls."""
    return {"demonstration_is_being_made": is_being_made}
