"""A coach's own account. The names are those that allauth looks for; the list of sign-ins is ours."""

from allauth.account import views as account
from allauth.mfa.base import views as mfa
from allauth.mfa.recovery_codes import views as recovery
from allauth.mfa.totp import views as totp
from django.urls import path, re_path

from classroom.people import views

urlpatterns = [
    path("sign-in/", account.login, name="account_login"),
    path("sign-out/", account.logout, name="account_logout"),
    path("sign-up/", account.signup, name="account_signup"),
    path("password/", account.password_change, name="account_change_password"),
    path("password/set/", account.password_set, name="account_set_password"),
    path("password/reset/", account.password_reset, name="account_reset_password"),
    path("password/reset/sent/", account.password_reset_done, name="account_reset_password_done"),
    re_path(
        r"^password/reset/key/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)/$",
        account.password_reset_from_key,
        name="account_reset_password_from_key",
    ),
    path("password/reset/key/done/", account.password_reset_from_key_done, name="account_reset_password_from_key_done"),
    path("confirm/", account.reauthenticate, name="account_reauthenticate"),
    path("inactive/", account.account_inactive, name="account_inactive"),
    path("sign-ins/", views.sign_ins, name="sign_ins"),
    path("sign-ins/<int:pk>/end/", views.sign_in_end, name="sign_in_end"),
    path("sign-ins/end-others/", views.sign_ins_end_others, name="sign_ins_end_others"),
    path("second-step/", mfa.index, name="mfa_index"),
    path("second-step/sign-in/", mfa.authenticate, name="mfa_authenticate"),
    path("second-step/confirm/", mfa.reauthenticate, name="mfa_reauthenticate"),
    path("second-step/app/on/", totp.activate_totp, name="mfa_activate_totp"),
    path("second-step/app/off/", totp.deactivate_totp, name="mfa_deactivate_totp"),
    path("second-step/codes/", recovery.view_recovery_codes, name="mfa_view_recovery_codes"),
    path("second-step/codes/new/", recovery.generate_recovery_codes, name="mfa_generate_recovery_codes"),
    path("second-step/codes/download/", recovery.download_recovery_codes, name="mfa_download_recovery_codes"),
]
