"""What a coach enters about readiness."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from missions.readiness.services.progress import LONGEST_REASON


class DayForm(forms.Form):
    """An earlier day of the board."""

    on = forms.DateField(label=gettext_lazy("What the board said on"), widget=forms.DateInput(attrs={"type": "date"}))

    def __init__(self, *args: Any, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.fields["on"].widget.attrs["max"] = today.isoformat()

    def clean_on(self) -> dt.date:
        day: dt.date = self.cleaned_data["on"]
        if day > self.today:
            raise ValidationError(_("That day is still to come. Choose an earlier one."))
        if day.year < 2000:
            raise ValidationError(_("Nothing was recorded then. Choose a later day."))
        return day


class DecisionForm(forms.Form):
    """A decision about a team in a tier. Whether a reason is needed is for the service to say."""

    reason = forms.CharField(
        required=False,
        max_length=LONGEST_REASON,
        label=gettext_lazy("Reason"),
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("Kept with the decision; other coaches see it."),
    )
    pass_below = forms.BooleanField(required=False)

    def __init__(self, *args: Any, below: str = "", needs_reason: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].required = needs_reason
        self.fields["reason"].error_messages["required"] = _("Say why: this goes against what the rule says.")
        if below:
            self.fields["pass_below"].label = _("Mark “%(below)s” as passed as well") % {"below": below}
        else:
            del self.fields["pass_below"]
