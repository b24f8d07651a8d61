"""Typed errors of the Django layers: a code for programs, a sentence that tells a person what to do next."""

from __future__ import annotations


class HelmroomError(Exception):
    """Something that was asked for cannot be done, and the asker can do something about it."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message


class NotAllowedError(HelmroomError):
    """The person is known but may not do this."""


class ConflictError(HelmroomError):
    """Somebody else was quicker, or the same key came with another body. Nothing was changed."""


class InputError(HelmroomError):
    """What was entered cannot be used as it stands."""
