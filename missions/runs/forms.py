"""A run as a team fills it in: the same fields whether the page sends them or the tablet's queue does."""

from __future__ import annotations

import datetime as dt
import math
import re
import uuid as uuids
from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.errors import InputError
from missions.errors import MissionsCode
from missions.models import Cause
from missions.runs.services.record_attempt import AttemptInput
from missions.runs.services.trials import TrialInput
from motion.errors import UnitError
from motion.units import MM_PER_UNIT, parse_angle, parse_length

OUTCOME = "outcome_"
#: The largest key that a database can be asked for.
MOST_KEY = 2**63 - 1
_CLOCK = re.compile(r"(?:(\d{1,2}):)?(\d{1,4}(?:[.,]\d{1,3})?)")


class RunForm(forms.Form):
    """Lengths are in the unit that their page had (or else the club's) unless they name their own; ``side`` and ``way`` stand for the sign.

    A run that does not say how far its tablet's clock is ahead was made before anybody knew: ``ahead_s`` is what its
    batch said.
    """

    uuid = forms.UUIDField()
    tier = forms.IntegerField(min_value=1, max_value=MOST_KEY)
    plan = forms.IntegerField(min_value=1, required=False)
    made_at = forms.CharField(max_length=40, required=False)
    ahead_s = forms.FloatField(required=False)
    duration = forms.CharField(max_length=12, required=False)
    unit = forms.ChoiceField(choices=[(unit, unit) for unit in MM_PER_UNIT], required=False)
    sideways = forms.CharField(max_length=24, required=False)
    side = forms.ChoiceField(choices=[("left", "left"), ("right", "right")], required=False)
    along = forms.CharField(max_length=24, required=False)
    way = forms.ChoiceField(choices=[("short", "short"), ("far", "far")], required=False)
    angle = forms.CharField(max_length=24, required=False)
    angle_side = forms.ChoiceField(choices=[("left", "left"), ("right", "right")], required=False)
    cause = forms.ChoiceField(choices=[("", ""), *Cause.choices], required=False)
    change_to_try = forms.CharField(max_length=200, required=False)
    note = forms.CharField(max_length=300, required=False)
    at_target = forms.IntegerField(min_value=0, max_value=9, required=False)
    works = forms.ChoiceField(choices=[("yes", "yes"), ("no", "no")], required=False)
    say_sideways = forms.CharField(max_length=24, required=False)
    say_side = forms.ChoiceField(choices=[("left", "left"), ("right", "right")], required=False)
    say_along = forms.CharField(max_length=24, required=False)
    say_way = forms.ChoiceField(choices=[("short", "short"), ("far", "far")], required=False)
    say_time = forms.CharField(max_length=12, required=False)
    trial = forms.UUIDField(required=False)
    trial_plan = forms.IntegerField(min_value=1, max_value=999_999, required=False)
    trial_words = forms.CharField(max_length=80, required=False)
    next_trial = forms.UUIDField(required=False)
    change_step = forms.IntegerField(min_value=1, max_value=99, required=False)
    change_way = forms.ChoiceField(choices=[("less", "less"), ("more", "more")], required=False)
    change_size = forms.CharField(max_length=12, required=False)

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, unit: str, now: dt.datetime, ahead_s: float = 0.0
    ) -> None:
        super().__init__(data)
        self.club_unit, self.now, self.batch_ahead_s = unit, now, ahead_s

    def clean_made_at(self) -> dt.datetime:
        text = self.cleaned_data["made_at"]
        if not text:
            return self.now
        try:
            moment = dt.datetime.fromisoformat(text)
        except ValueError:
            raise forms.ValidationError(_("The time of this run cannot be read. Log it again.")) from None
        if moment.tzinfo is None:
            raise forms.ValidationError(_("The time of this run has no time zone. Log it again."))
        return moment

    def clean_ahead_s(self) -> float | None:
        ahead = self.cleaned_data["ahead_s"]
        if ahead is None:
            return None
        if not math.isfinite(ahead) or abs(ahead) > 4e9:
            raise forms.ValidationError(_("The tablet's clock cannot be read. Set its date and time."))
        return float(ahead)

    def clean_duration(self) -> float | None:
        return self._seconds("duration")

    def clean_say_time(self) -> float | None:
        return self._seconds("say_time")

    def _seconds(self, name: str) -> float | None:
        text = self.cleaned_data[name].strip()
        if not text:
            return None
        match = _CLOCK.fullmatch(text)
        if match is None:
            raise forms.ValidationError(_("Write the time as seconds, such as 41.2, or minutes and seconds: 1:12.4."))
        seconds = int(match[1] or 0) * 60 + float(match[2].replace(",", "."))
        if not 0 < seconds <= 3600:
            raise forms.ValidationError(_("A run takes more than 0 seconds and at most an hour. Correct its time."))
        return seconds

    def clean_sideways(self) -> float | None:
        return self._length("sideways")

    def clean_along(self) -> float | None:
        return self._length("along")

    def clean_say_sideways(self) -> float | None:
        return self._length("say_sideways")

    def clean_say_along(self) -> float | None:
        return self._length("say_along")

    def clean_angle(self) -> float | None:
        text = self.cleaned_data["angle"].strip()
        try:
            return parse_angle(text) if text else None
        except UnitError as error:
            raise forms.ValidationError(error.message) from None

    def _length(self, name: str) -> float | None:
        text = self.cleaned_data[name].strip()
        try:
            return parse_length(text, self.cleaned_data.get("unit") or self.club_unit) if text else None
        except UnitError as error:
            raise forms.ValidationError(error.message) from None

    def run(self) -> AttemptInput:
        """What was filled in, as missions records it.

        Raises
        ------
        InputError
            ``not_readable`` with the first thing that is wrong.
        """
        if not self.is_valid():
            name, wrong = next(iter(self.errors.items()))
            raise InputError(MissionsCode.NOT_READABLE, _labelled(name, str(wrong[0])))
        got = self.cleaned_data
        known = got["ahead_s"] is not None or not self.data.get("made_at")
        following = self._next_trial()
        ahead = (got["ahead_s"] or 0.0) if known else self.batch_ahead_s
        try:
            made_at = got["made_at"] - dt.timedelta(seconds=ahead)
        except OverflowError:
            raise InputError(
                MissionsCode.BAD_CLOCK, _("Set the tablet's date and time, then send this run again.")
            ) from None
        return AttemptInput(
            uuid=got["uuid"],
            tier_id=got["tier"],
            made_at=made_at,
            clock_ahead_s=ahead,
            said_at=None if known else got["made_at"],
            duration_s=got["duration"],
            outcomes=_outcomes(self.data),
            lateral_mm=_signed(got["sideways"], got["side"] == "right"),
            along_mm=_signed(got["along"], got["way"] == "short"),
            heading_error_deg=_signed(got["angle"], got["angle_side"] == "right"),
            cause=got["cause"],
            change_to_try=got["change_to_try"] or (following.words if following else ""),
            note=got["note"],
            plan_number=got["plan"],
            at_target=got["at_target"] or 0,
            said_before=self._said_before(),
            trial=self._trial(),
            next_trial=following,
        )

    def _said_before(self) -> dict[str, Any] | None:
        got = self.cleaned_data
        said = {
            "works": {"yes": True, "no": False}.get(got["works"]),
            "lateral_mm": _signed(got["say_sideways"], got["say_side"] == "right"),
            "along_mm": _signed(got["say_along"], got["say_way"] == "short"),
            "duration_s": got["say_time"],
        }
        return {name: value for name, value in said.items() if value is not None} or None

    def _trial(self) -> TrialInput | None:
        """What the run tests. Its key alone is enough once the trial is known; words and plan make it anew."""
        got = self.cleaned_data
        if not got["trial"] or not got["trial_plan"]:
            return None
        return TrialInput(got["trial"], got["trial_plan"], got["trial_words"])

    def _next_trial(self) -> TrialInput | None:
        """What the next runs shall test: one change of the plan that was run, or of the one that a try was of."""
        got = self.cleaned_data
        plan = got["plan"] or got["trial_plan"]
        if not got["change_step"] or not got["change_size"] or not plan:
            return None
        more = got["change_way"] == "more"
        words = _("step {step}: {size} more") if more else _("step {step}: {size} less")
        words = words.format(step=got["change_step"], size=got["change_size"])
        return TrialInput(got["next_trial"] or uuids.uuid5(got["uuid"], "next trial"), plan, words)


_LABELS = {
    "uuid": gettext_noop("Its key"),
    "tier": gettext_noop("Its tier"),
    "plan": gettext_noop("Plan"),
    "duration": gettext_noop("Time"),
    "unit": gettext_noop("Unit"),
    "sideways": gettext_noop("Sideways"),
    "along": gettext_noop("Along"),
    "angle": gettext_noop("Angle"),
    "cause": gettext_noop("Cause"),
    "change_to_try": gettext_noop("One change to try"),
    "note": gettext_noop("Note"),
    "at_target": gettext_noop("Target"),
    "say_sideways": gettext_noop("What you said, sideways"),
    "say_along": gettext_noop("What you said, along"),
    "say_time": gettext_noop("What you said, time"),
    "change_step": gettext_noop("The step to change"),
    "change_size": gettext_noop("By how much"),
}


def _labelled(name: str, wrong: str) -> str:
    """What is wrong, with the field's name before it where a team knows the field."""
    label = _LABELS.get(name)
    return _("%(field)s: %(wrong)s") % {"field": _(label), "wrong": wrong} if label else wrong


def _outcomes(data: Mapping[str, Any]) -> dict[str, Any]:
    """``outcome_left_base=yes`` and the like; anything but yes and no is left for the record's own refusal."""
    words = {"yes": True, "no": False}
    said = {key.removeprefix(OUTCOME): data.get(key) for key in data if key.startswith(OUTCOME)}
    return {key: words.get(str(value)) for key, value in said.items()}


def _signed(value: float | None, negative: bool) -> float | None:
    return -value if value and negative else value


def new_key() -> uuids.UUID:
    """For a form sent without script; the tablet's own keys are UUIDv7."""
    return uuids.uuid4()
