"""What a team or a coach says that was changed."""

from __future__ import annotations

from django import forms

from missions.models import ChangedPart
from missions.readiness.services.mark_change import LONGEST_WORDS


class ChangeForm(forms.Form):
    """One choice and, if they like, a word for it."""

    part = forms.ChoiceField(
        choices=ChangedPart,
        label="What was changed",
        error_messages={
            "required": "Choose what was changed.",
            "invalid_choice": "Choose what was changed from the list, or “Something else”.",
        },
    )
    words = forms.CharField(
        required=False,
        max_length=LONGEST_WORDS,
        label="Which",
        help_text="A word is enough, such as “back wheel”.",
        error_messages={"max_length": f"Say it in {LONGEST_WORDS} letters or fewer."},
    )

    @property
    def wrong(self) -> str:
        """What is wrong with it, for a page that shows it as a message."""
        return " ".join(str(words) for found in self.errors.values() for words in found)
