"""What a coach types about terms and sessions."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from classroom.access import as_key
from classroom.models import Club
from missions.models import Mission
from missions.term.services.plan_term import SessionTimes


class _DateInput(forms.DateInput):
    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


class _TimeInput(forms.TimeInput):
    input_type = "time"

    def __init__(self) -> None:
        super().__init__(format="%H:%M")


class TermForm(forms.Form):
    name = forms.CharField(label=gettext_lazy("Name"), max_length=60, help_text=gettext_lazy("Such as Autumn term."))
    starts_on = forms.DateField(label=gettext_lazy("First day"), widget=_DateInput())
    ends_on = forms.DateField(label=gettext_lazy("Last day"), widget=_DateInput())


class _MissionsField(forms.ModelMultipleChoiceField):
    """Passes over what is no row's number: a database can be asked for numbers of its own size only."""

    def clean(self, value: Any) -> Any:
        return super().clean([text for text in value or () if as_key(str(text))])


class SessionForm(forms.Form):
    day = forms.DateField(label=gettext_lazy("Date"), widget=_DateInput())
    starts = forms.TimeField(label=gettext_lazy("From"), widget=_TimeInput())
    ends = forms.TimeField(label=gettext_lazy("To"), widget=_TimeInput())
    place = forms.CharField(label=gettext_lazy("Place"), max_length=80, required=False)
    missions = _MissionsField(
        label=gettext_lazy("Missions on the plan"),
        queryset=Mission.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(self, *args: Any, club: Club, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["missions"].queryset = Mission.objects.filter(club=club).active()  # type: ignore[attr-defined]

    @property
    def times(self) -> SessionTimes:
        typed = self.cleaned_data
        return SessionTimes(typed["day"], typed["starts"], typed["ends"], typed["place"])

    @property
    def chosen(self) -> list[Mission]:
        return list(self.cleaned_data["missions"])


class NewSessionForm(SessionForm):
    every_week = forms.BooleanField(label=gettext_lazy("Every week until the term ends"), required=False)
