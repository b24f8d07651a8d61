"""What a coach is shown who was the slower of two: what each of them says, field by field, and the way on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.formats import date_format, time_format
from django.utils.translation import gettext as _

from classroom.errors import ConflictError
from classroom.site.fields import LengthField
from classroom.site.figures import in_own_digits
from motion.units import format_length


@dataclass(frozen=True)
class FieldDifference:
    what: str
    mine: str
    theirs: str


@dataclass(frozen=True)
class Clash:
    """``over`` is the mark of what was saved meanwhile: sent back, mine goes over theirs."""

    words: str
    differences: list[FieldDifference]
    over: str


def clash_of(error: ConflictError, mine: forms.BaseForm, theirs: forms.BaseForm, over: str) -> Clash:
    """``mine`` is valid and as typed; ``theirs`` is unbound, made from the row as it now stands."""
    return Clash(error.message, list(_differences(mine, theirs)), over)


def _differences(mine: forms.BaseForm, theirs: forms.BaseForm) -> Any:
    for name, field in theirs.fields.items():
        if isinstance(field.widget, forms.HiddenInput) or name not in mine.cleaned_data:
            continue
        ours = _said(mine.fields[name], mine.cleaned_data[name])
        saved = _said(field, theirs.get_initial_for_field(field, name))
        if ours != saved:
            yield FieldDifference(
                str(field.label or name.replace("_", " ").capitalize()), ours or _("nothing"), saved or _("nothing")
            )


def _said(field: forms.Field, value: Any) -> str:
    if isinstance(value, bool) or isinstance(field, forms.BooleanField):
        return _("yes") if value else _("no")
    if value in (None, ""):
        return ""
    if isinstance(field, LengthField):
        return (
            in_own_digits(format_length(value, field.unit, decimals=2))
            if isinstance(value, (int, float))
            else str(value)
        )
    if isinstance(field, forms.ModelMultipleChoiceField):
        keys = {getattr(one, "pk", one) for one in value}
        return ", ".join(label for key, label in _rows(field) if key in keys)
    if isinstance(field, forms.ModelChoiceField):
        return dict(_rows(field)).get(getattr(value, "pk", value), "")
    if isinstance(field, forms.ChoiceField):
        return str(dict(field.choices).get(value, value))  # type: ignore[arg-type]
    if isinstance(field, forms.FloatField):
        return in_own_digits(f"{float(value):g}")
    if isinstance(field, forms.TimeField):
        return time_format(value, "TIME_FORMAT")
    if isinstance(field, forms.DateField):
        return date_format(value, "DATE_FORMAT")
    return str(value).strip().replace("\r\n", "\n")


def _rows(field: forms.ModelChoiceField) -> list[tuple[Any, str]]:
    return [(row.pk, str(row)) for row in field.queryset.all()] if field.queryset is not None else []
