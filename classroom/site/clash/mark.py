"""Two coaches at one form: what each was shown is remembered as a mark, and the slower one is told."""

from __future__ import annotations

import hashlib
import json

from django.utils.translation import gettext as _

from classroom.club.audit_words import actor_names, who_did
from classroom.errors import ClassroomCode, ConflictError
from classroom.models import AuditEntry, Club
from classroom.site.isolated import isolated

CHANGED = ClassroomCode.CHANGED_MEANWHILE


def mark_of(*values: object) -> str:
    """What a form remembers of the values it was made from; another mark means that they have changed since."""
    return hashlib.sha256(json.dumps(values, default=str).encode()).hexdigest()[:24]


def refuse_changed(seen: str | None, mark: str, club: Club, subject: str, verbs: tuple[str, ...]) -> None:
    """Let nobody write over what they were not shown. Call it in the transaction that writes, on the row as locked.

    Parameters
    ----------
    seen
        The mark that the form carried; None for a caller that shows no form.
    subject, verbs
        Of the log's entries that tell who changed it.

    Raises
    ------
    ConflictError
        ``changed_meanwhile``: nothing was written.
    """
    if seen is None or seen == mark:
        return
    last = AuditEntry.objects.filter(club=club, subject=subject, verb__in=verbs).first()
    who = isolated(who_did(last, actor_names(club, [last]))) if last else _("Somebody")
    raise ConflictError(
        CHANGED,
        _(
            "%(who)s changed this while you had it open. Nothing of yours is lost: it is still in the form. "
            "Compare the two, then choose."
        )
        % {"who": who},
    )


def refuse_stale(seen: str | None, mark: str, words: str = "") -> None:
    """As :func:`refuse_changed`, for a form of a tap or two: the page shows how it stands, and one chooses again."""
    if seen is not None and seen != mark:
        said = words or _("Somebody changed this while you had it open.")
        raise ConflictError(CHANGED, " ".join((said, _("Here is how it stands now: choose again."))))
