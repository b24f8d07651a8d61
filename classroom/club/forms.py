"""The club's settings, its coaches, and the way in for a new one."""

from __future__ import annotations

from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.models import Club, Role, User
from classroom.people.names import one_line
from classroom.site.languages import NAMES, language_of_club


class ClubForm(forms.ModelForm):
    """The time zone is one that the system knows; the retention is in days."""

    class Meta:
        model = Club
        fields = ["name", "unit", "time_zone", "locale", "retention_days", "tells_jobs", "measures_by_camera"]
        labels = {
            "name": gettext_lazy("Name"),
            "unit": gettext_lazy("Lengths are shown in"),
            "time_zone": gettext_lazy("Time zone"),
            "retention_days": gettext_lazy("Records are kept for (days)"),
            "tells_jobs": gettext_lazy("Families may read which jobs their child had in its team"),
            "measures_by_camera": gettext_lazy("Tables and robots may be measured by a picture"),
        }
        help_texts = {
            "unit": gettext_lazy("What was measured stays as it was; “26 in” or “66 cm” can be typed in any case."),
            "retention_days": gettext_lazy(
                "Counted from when they were made. After it, runs and names are erased for good."
            ),
            "tells_jobs": gettext_lazy(
                "Off unless you switch it on. Then a family's page and the drafts for it count the turns in which the child drove, typed, measured or wrote."
            ),
            "measures_by_camera": gettext_lazy(
                "A picture is measured and dropped at once, never kept. Switched off, its pages and buttons are gone."
            ),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        zones = sorted(zone for zone in available_timezones() if "/" in zone or zone == "UTC")
        self.fields["time_zone"] = forms.ChoiceField(
            label=_("Time zone"), choices=[(zone, zone.replace("_", " ")) for zone in zones]
        )
        if "locale" in self.fields:
            self.fields["locale"] = forms.ChoiceField(
                label=_("The club's language"),
                choices=list(NAMES.items()),
                required=False,
                help_text=_(
                    "Families, tablets and coaches read it. Another can be set for each family, on each tablet and by each coach."
                ),
            )

    def clean_name(self) -> str:
        return one_line(self.cleaned_data["name"])

    def clean_locale(self) -> str:
        return self.cleaned_data["locale"] or self.instance.locale

    def clean_retention_days(self) -> int:
        days = self.cleaned_data["retention_days"]
        if days > 3650:
            raise forms.ValidationError(_("Ten years at most; most clubs need one or two."))
        return days


class NewClubForm(ClubForm):
    """A club that is not there yet, and the address of the one who will lead it."""

    email = forms.EmailField(label=gettext_lazy("E-mail"))

    class Meta(ClubForm.Meta):
        fields = ["name", "unit", "time_zone"]


class OwnLanguageForm(forms.Form):
    """Of a coach's own pages; empty: the club's."""

    language = forms.ChoiceField(label=gettext_lazy("You read"), required=False)

    def __init__(self, *args: Any, club: Club, **more: Any) -> None:
        super().__init__(*args, **more)
        as_club = _("%(language)s (the club's language)") % {"language": NAMES[language_of_club(club)]}
        names = [("", as_club), *NAMES.items()]
        self.fields["language"] = forms.ChoiceField(label=_("You read"), choices=names, required=False)


class InviteForm(forms.Form):
    email = forms.EmailField(label=gettext_lazy("E-mail"))
    role = forms.ChoiceField(choices=Role.choices, initial=Role.ASSISTANT, label=gettext_lazy("As"))


class RoleForm(forms.Form):
    role = forms.ChoiceField(choices=Role.choices, label=gettext_lazy("Role"))


class JoinForm(forms.Form):
    """A new coach's own name and password; the address is the invitation's."""

    name = forms.CharField(
        max_length=60, label=gettext_lazy("Your name"), widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    password = forms.CharField(
        max_length=200,
        label=gettext_lazy("A password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=gettext_lazy("At least ten characters; three or four words that do not belong together are good."),
    )

    def __init__(self, *args: Any, email: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.email = email

    def clean_name(self) -> str:
        return one_line(self.cleaned_data["name"])

    def clean_password(self) -> str:
        password = self.cleaned_data["password"]
        validate_password(password, User(email=self.email, username=self.email))
        return password
