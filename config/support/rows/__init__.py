"""The support pages: which records can be looked at there, an app a file."""

from config.support.rows import classroom, missions, planning, sign_ins

__all__ = ["classroom", "missions", "planning", "sign_ins"]
