"""Whether the runs of one plan have changed, in a coach's words."""

from __future__ import annotations

from django.utils.translation import gettext as _

from classroom.site.figures import figure_said, length_said
from missions.runs.rules.changes import Halves
from missions.runs.what_changed import PlanRuns


def change_in_words(own: PlanRuns | None, unit: str) -> str:
    """A change of the runs of one plan, said only where it is one."""
    found = own.changes if own else None
    if found is None or (found.off is None and found.clean is None):
        return _("Too few runs of one plan, with the robot as it is now, to tell whether anything has changed.")
    parts = [
        *([_off_words(found.off, unit)] if found.off else []),
        *([_share_words(found.clean)] if found.clean else []),
    ]
    if len(parts) == 1:
        return _("Plan %(plan)s: %(what)s.") % {"plan": found.plan, "what": parts[0]}
    return _("Plan %(plan)s: %(what)s; %(also)s.") % {"plan": found.plan, "what": parts[0], "also": parts[1]}


def _off_words(off: Halves, unit: str) -> str:
    if off.way == "same":
        return _("landings about as far off as before, %(together)s (%(count)s runs measured)") % {
            "together": length_said(off.together, unit),
            "count": off.runs_before + off.runs_after,
        }
    closer = _(
        "landings closer to the mark: %(before)s in the first %(first)s runs measured, %(after)s in the %(last)s since"
    )
    farther = _(
        "landings farther from the mark: %(before)s in the first %(first)s runs measured, %(after)s in the %(last)s since"
    )
    return (closer if off.way == "less" else farther) % {
        "before": length_said(off.before, unit),
        "first": off.runs_before,
        "after": length_said(off.after, unit),
        "last": off.runs_after,
    }


def _share_words(clean: Halves) -> str:
    if clean.way == "same":
        return _("about as many clean as before, %(together)s of %(count)s") % {
            "together": figure_said(clean.together),
            "count": clean.runs_before + clean.runs_after,
        }
    more = _("more clean: %(before)s of the first %(first)s, %(after)s of the %(last)s since")
    fewer = _("fewer clean: %(before)s of the first %(first)s, %(after)s of the %(last)s since")
    return (more if clean.way == "more" else fewer) % {
        "before": figure_said(clean.before),
        "first": clean.runs_before,
        "after": figure_said(clean.after),
        "last": clean.runs_after,
    }
