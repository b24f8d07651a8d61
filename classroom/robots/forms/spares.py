"""A line of the list of spares."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from classroom.models import Spare
from classroom.people.names import one_line
from classroom.robots.services.keep_spare import MOST, SpareLine


class SpareForm(forms.Form):
    name = forms.CharField(max_length=60, label=_("What"), help_text=_("Such as Tyre, Axle or Cable."))
    on_hand = forms.IntegerField(
        min_value=0, max_value=MOST, label=_("On hand"), widget=forms.NumberInput(attrs={"class": "short"})
    )
    least = forms.IntegerField(
        min_value=0,
        max_value=MOST,
        label=_("Least to keep"),
        widget=forms.NumberInput(attrs={"class": "short"}),
        help_text=_("With fewer than this, helmroom says what to buy."),
    )
    place = forms.CharField(max_length=80, required=False, label=_("Where it lies"))

    def __init__(self, *args: Any, spare: Spare | None = None, **kwargs: Any) -> None:
        if spare is not None:
            kwargs["initial"] = {name: getattr(spare, name) for name in ("name", "on_hand", "least", "place")}
        super().__init__(*args, **kwargs)

    def clean_name(self) -> str:
        return one_line(self.cleaned_data["name"])

    def clean_place(self) -> str:
        return one_line(self.cleaned_data["place"])

    @property
    def line(self) -> SpareLine:
        return SpareLine(**self.cleaned_data)


class FillUpForm(forms.Form):
    count = forms.IntegerField(min_value=1, max_value=MOST)
