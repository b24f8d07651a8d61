"""What a team or a coach says that was changed."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy

from missions.models import ChangedPart
from missions.readiness.services.mark_change import LONGEST_WORDS


class ChangeForm(forms.Form):
    """One choice and, if they like, a word for it."""

    part = forms.ChoiceField(
        choices=ChangedPart,
        label=gettext_lazy("What was changed"),
        error_messages={
            "required": gettext_lazy("Choose what was changed."),
            "invalid_choice": gettext_lazy("Choose what was changed from the list, or “Something else”."),
        },
    )
    words = forms.CharField(
        required=False,
        max_length=LONGEST_WORDS,
        label=gettext_lazy("Which"),
        help_text=gettext_lazy("A word is enough, such as “back wheel”."),
        error_messages={"max_length": gettext_lazy("Say it in %(limit_value)s letters or fewer.")},
    )

    @property
    def wrong(self) -> str:
        """What is wrong with it, for a page that shows it as a message."""
        return " ".join(str(words) for found in self.errors.values() for words in found)
