"""Team names, nicknames, rosters."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from classroom.models import Club, Team
from classroom.people.names import one_line, refusal, warning

#: How long a new code opens the door. A code on a wall is everybody's: the shorter, the safer.
CODE_UNTIL = [
    ("today", _("until the end of today")),
    ("week", _("for a week")),
    ("term", _("until the end of the term")),
]


class TeamForm(forms.Form):
    name = forms.CharField(max_length=40, label=_("Team's name"))

    def clean_name(self) -> str:
        return one_line(self.cleaned_data["name"])


class NicknameForm(forms.Form):
    """Asks once more when a name looks like a full name; refuses what is no name at all."""

    nickname = forms.CharField(
        max_length=60, label=_("First name or nickname"), help_text=_("No surname, no e-mail address.")
    )
    sure = forms.BooleanField(required=False, label=_("Keep it as it is"), widget=forms.HiddenInput)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        name = data["nickname"] = one_line(data.get("nickname", ""))
        if "nickname" in self.errors:
            return data
        if why := refusal(name):
            self.add_error("nickname", why)
        elif (look := warning(name)) and not data.get("sure"):
            self.fields["sure"].widget = forms.CheckboxInput()
            self.add_error("nickname", ValidationError(look, code="full_name"))
        return data

    @property
    def asks(self) -> bool:
        """Whether only the coach's word is missing."""
        return isinstance(self.fields["sure"].widget, forms.CheckboxInput)


class NewMemberForm(NicknameForm):
    """A child that a team gets; it may have been here for a while before anybody wrote it down."""

    here_since = forms.DateField(
        required=False,
        label=_("Here since"),
        help_text=_("Empty is today."),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    field_order = ["nickname", "here_since", "sure"]


class MemberForm(NicknameForm):
    team = forms.ModelChoiceField(
        queryset=Team.objects.none(), required=False, label=_("Team"), empty_label=_("No team (left the club)")
    )
    field_order = ["nickname", "sure", "team"]

    def __init__(self, *args: Any, club: Club, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["team"].queryset = Team.objects.filter(club=club).active()  # type: ignore[attr-defined]


class CodeForm(forms.Form):
    until = forms.ChoiceField(choices=CODE_UNTIL, label=_("It opens the door"), initial="today")


class RosterForm(forms.Form):
    text = forms.CharField(
        required=False,
        max_length=1_000_000,
        label=_("Paste from a spreadsheet"),
        strip=False,
        widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false"}),
        help_text=_("One child a line: first name or nickname, then the team. A heading line may name the columns."),
    )
    file = forms.FileField(required=False, label=_("Or choose a CSV file"))
    digest = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)
