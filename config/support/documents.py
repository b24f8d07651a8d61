"""Fields that hold a document, as support edits them: what no database can keep, or no page show again, is refused."""

from __future__ import annotations

import json
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.fields import InvalidJSONInput


class DocumentField(forms.JSONField):
    """Django's own takes what is nested without end, numbers that are none and halves of characters for JSON."""

    def to_python(self, value: Any) -> Any:
        try:
            kept = super().to_python(value)
            text = json.dumps(kept, ensure_ascii=False, allow_nan=False)
            text.encode()
        except (RecursionError, ValueError):
            raise ValidationError(self.error_messages["invalid"], code="invalid", params={"value": value}) from None
        if "\\u0000" in text:
            raise ValidationError(self.error_messages["invalid"], code="invalid", params={"value": value})
        return kept

    def bound_data(self, data: Any, initial: Any) -> Any:
        """What was typed, as it was typed, where it is refused."""
        try:
            self.to_python(data)
        except ValidationError:
            return InvalidJSONInput(data)
        return super().bound_data(data, initial)
