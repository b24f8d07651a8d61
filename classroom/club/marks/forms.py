"""Where the mark on a robot's top is, as a ruler says."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from classroom.site.fields import LengthField, read_in_unit


class TopMarkForm(forms.Form):
    height = LengthField(label=_("The mark's height above the table"), least_mm=5.0, most_mm=600.0)
    ahead = LengthField(
        label=_("Its middle is ahead of the axle by"),
        least_mm=-500.0,
        most_mm=500.0,
        help_text=_("Along the robot. Behind the axle has a minus."),
    )
    left = LengthField(
        label=_("Its middle is left of the robot's middle by"),
        least_mm=-300.0,
        most_mm=300.0,
        required=False,
        help_text=_("To the right has a minus. Empty: in the middle."),
    )

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        read_in_unit(self, unit)
