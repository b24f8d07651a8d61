"""What a coach writes for one child's family."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.models import Club, Member
from classroom.people.names import one_line
from classroom.site.languages import NAMES, language_of_club, language_of_family

#: Later days are as far: no day comes after the calendar's last, and whoever makes the link refuses both in words.
FARTHEST = dt.date(9000, 1, 1)


def _lines() -> forms.Textarea:
    return forms.Textarea(attrs={"rows": 2})


class WordsForm(forms.Form):
    learnt = forms.CharField(max_length=200, label=gettext_lazy("One thing learnt"), widget=_lines())
    working_on = forms.CharField(max_length=200, label=gettext_lazy("One thing being worked on"), widget=_lines())
    ask_at_home = forms.CharField(max_length=200, label=gettext_lazy("One question to ask at home"), widget=_lines())
    language = forms.ChoiceField(label=gettext_lazy("Written in"), choices=list(NAMES.items()), required=False)

    def _line(self, name: str) -> str:
        return one_line(self.cleaned_data[name])

    def clean_learnt(self) -> str:
        return self._line("learnt")

    def clean_working_on(self) -> str:
        return self._line("working_on")

    def clean_ask_at_home(self) -> str:
        return self._line("ask_at_home")


class LinkEndForm(forms.Form):
    """The last day on which a new link opens anything."""

    ends_on = forms.DateField(
        label=gettext_lazy("The link's last day"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={
            "required": gettext_lazy("Give the link's last day."),
            "invalid": gettext_lazy("Give the link's last day as a date."),
        },
    )

    def __init__(self, *args: Any, now: dt.datetime, **more: Any) -> None:
        super().__init__(*args, **more)
        self.initial.setdefault("ends_on", timezone.localdate(now) + dt.timedelta(days=settings.HELMROOM_LINK_DAYS))

    def ends_at(self) -> dt.datetime:
        """The end of that day by the club's clock."""
        after: dt.date = min(self.cleaned_data["ends_on"], FARTHEST) + dt.timedelta(days=1)
        return timezone.make_aware(dt.datetime.combine(after, dt.time()))


class ContactForm(forms.Form):
    email = forms.EmailField(
        label=gettext_lazy("Guardian's e-mail"),
        help_text=gettext_lazy("Only to tell them of the link. It never reaches a tablet."),
    )
    consented = forms.BooleanField(
        label=gettext_lazy("The guardian has read the club's privacy page and agrees that their address is kept"),
        required=False,
    )
    language = forms.ChoiceField(
        label=gettext_lazy("E-mails are written in"), choices=list(NAMES.items()), required=False
    )

    def __init__(self, *args: Any, member: Member, **more: Any) -> None:
        super().__init__(*args, **more)
        self.initial.setdefault("language", language_of_family(member))


class FamilyLanguageForm(forms.Form):
    """Of a child's page, of its slips and of drafts for it."""

    language = forms.ChoiceField(label=gettext_lazy("The family reads"), required=False)

    def __init__(self, *args: Any, club: Club, **more: Any) -> None:
        super().__init__(*args, **more)
        names = [
            ("", _("%(language)s (the club's language)") % {"language": NAMES[language_of_club(club)]}),
            *NAMES.items(),
        ]
        self.fields["language"] = forms.ChoiceField(label=_("The family reads"), choices=names, required=False)
