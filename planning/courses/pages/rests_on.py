"""What a predicted chance rests on, part by part: what was measured, in how many runs and when, and what is a kit's usual."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from classroom.robots.kinds import kind_of
from classroom.robots.numbers import RobotNumbers
from classroom.site.isolated import isolated
from classroom.site.listed import listed
from classroom.site.tags import thousands
from motion.course.actions import Check

#: What each spread is called, in the order in which they are told; what stands together is told once.
_CALLED = {
    "distance_sd_fraction": gettext_noop("how far it drives"),
    "turn_sd_deg": gettext_noop("how it turns"),
    "drift_sd_deg_per_m": gettext_noop("how it curves"),
    "start_heading_sd_deg": gettext_noop("how it is set down"),
}


def rests_on(check: Check, numbers: RobotNumbers, name: str, runs: int) -> str:
    """Whole sentences; empty when no chance is shown.

    Parameters
    ----------
    runs
        Logged runs of the robot that count as well.
    """
    if check.success is None:
        return ""
    said = [_("From %(runs)s pretend runs.") % {"runs": thousands(check.success.runs)}]
    if not numbers.measured and numbers.set_down is None and not runs:
        words = _("%(robot)s has not been measured yet: all of it is a kit's usual, so take this as a guess.")
        said.append(words % {"robot": isolated(name)})
        return " ".join(said)
    said += _parts(numbers)
    if runs:
        words = ngettext("%(runs)s logged run counts as well.", "%(runs)s logged runs count as well.", runs)
        said.append(words % {"runs": runs})
    return " ".join(said)


def _parts(numbers: RobotNumbers) -> Iterator[str]:
    source = {part.spread: part.source for part in numbers.parts}
    usual = []
    for spread, called in _CALLED.items():
        calibration = numbers.in_force.get(source[spread])
        if calibration is None:
            usual.append(_(called))
            continue
        yield _("%(what)s: %(count)s %(runs)s, %(day)s.") % {
            "what": _capital(_(called)),
            "count": len(calibration.runs),
            "runs": kind_of(calibration.kind).counted,
            "day": date_format(timezone.localdate(calibration.measured_at), "MONTH_DAY_FORMAT"),
        }
    if usual:
        yield _("%(what)s: not measured yet, so a kit's usual.") % {"what": _capital(listed(usual))}


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
