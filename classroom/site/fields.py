"""Fields that read what people write: lengths with their unit, names without what does not belong in them."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from classroom.site.figures import in_own_digits, length_said
from motion.errors import UnitError
from motion.units import format_length, parse_length


class LengthField(forms.CharField):
    """A length in mm from "26 in", "66 cm" or a bare number in the club's unit (set by ``read_in_unit``)."""

    def __init__(self, *, least_mm: float = 0.0, most_mm: float = 10_000.0, **kwargs: Any) -> None:
        self.least_mm, self.most_mm, self.unit = least_mm, most_mm, "cm"
        kwargs.setdefault("max_length", 24)
        super().__init__(**kwargs)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return super().widget_attrs(widget) | {"autocomplete": "off", "class": "short"}

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, (int, float)):
            return value
        return in_own_digits(format_length(value, self.unit, decimals=2))

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            mm = parse_length(text, self.unit)
        except UnitError as error:
            raise ValidationError(error.message, code=error.code) from error
        if not self.least_mm <= mm <= self.most_mm:
            low, high = length_said(self.least_mm, self.unit), length_said(self.most_mm, self.unit)
            raise ValidationError(
                _("This lies between %(low)s and %(high)s; check the number and its unit.")
                % {"low": low, "high": high},
                code="size",
            )
        return round(mm, 6)


def read_in_unit(form: forms.BaseForm, unit: str) -> None:
    """All lengths of a form in the club's unit."""
    for field in form.fields.values():
        if isinstance(field, LengthField):
            field.unit = unit
