"""What a team types at the tablet's door."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _


class TeamSignInForm(forms.Form):
    """Code and PIN. What is wrong with them is not said here: every refusal reads alike."""

    code = forms.CharField(
        label=_("Team code"),
        max_length=20,
        error_messages=dict.fromkeys(
            ("required", "max_length"), _("Type the eight letters and numbers of your team's card.")
        ),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )
    pin = forms.CharField(
        label=_("PIN"),
        max_length=12,
        error_messages=dict.fromkeys(("required", "max_length"), _("Type the six numbers of your team's PIN.")),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
