"""allauth's forms at the coaches' door, in the words that the other pages use."""

from __future__ import annotations

from typing import Any

from allauth.account.forms import LoginForm, ResetPasswordForm
from django import forms
from django.utils.translation import gettext_lazy as _


def _say_email(field: forms.Field) -> None:
    field.label = _("E-mail")


def _leave_boxes_empty(form: forms.Form) -> None:
    """No example stands in a box: it only said the label again, and looks as if the box were filled."""
    for field in form.fields.values():
        field.widget.attrs.pop("placeholder", None)


class SignInForm(LoginForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _say_email(self.fields["login"])
        _leave_boxes_empty(self)


class ForgottenPasswordForm(ResetPasswordForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _say_email(self.fields["email"])
        _leave_boxes_empty(self)
