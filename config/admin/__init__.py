"""The support pages: which records can be looked at there, an app a file."""

from config.admin import classroom, missions, planning

__all__ = ["classroom", "missions", "planning"]
