"""A coach's own account: allauth's pages. Teams and guardians have no user, so these treat them as anybody.
Only the list of sign-ins is ours, and of one's own alone."""

from tests.access import Row

ANYBODY = "200 200 200 200 200 302 302 302 302"  # whoever is signed in is sent on
SIGNED_IN = "302 302 302 302 302 200 200 200 200"
SENT_ON = "302 302 302 302 302 302 302 302 302"
NOTICE = "200 200 200 200 200 200 200 200 200"

ROWS = {
    "health": Row(NOTICE),
    "ready": Row(NOTICE),
    "metrics": Row("404 404 404 404 404 404 404 404 404"),  # by a token only: tests/config/test_health.py
    "account_login": Row(ANYBODY),
    "account_signup": Row(ANYBODY),
    "account_logout": Row(SIGNED_IN),
    "account_change_password": Row(SIGNED_IN),
    "account_set_password": Row(SENT_ON),
    "account_reset_password": Row(NOTICE),
    "account_reset_password_done": Row(NOTICE),
    "account_reset_password_from_key": Row(NOTICE, lambda w: {"uidb36": "1", "key": "no-such-key"}),
    "account_reset_password_from_key_done": Row(NOTICE),
    "account_reauthenticate": Row(SIGNED_IN),
    "account_inactive": Row(NOTICE),
    "sign_ins": Row("302 404 404 404 404 200 200 200 200"),
    "sign_in_end": Row("302 404 404 404 404 404 404 302 404", lambda w: {"pk": w.sign_in.pk}, method="post"),
    "sign_ins_end_others": Row("302 404 404 404 404 302 302 302 302", method="post"),
    "mfa_index": Row(SIGNED_IN),
    "mfa_authenticate": Row(SENT_ON),
    "mfa_reauthenticate": Row(SENT_ON),
    "mfa_activate_totp": Row(SENT_ON),
    "mfa_deactivate_totp": Row("302 302 302 302 302 404 404 404 404"),
    "mfa_view_recovery_codes": Row("302 302 302 302 302 404 404 404 404"),
    "mfa_generate_recovery_codes": Row(SENT_ON),
    "mfa_download_recovery_codes": Row("302 302 302 302 302 404 404 404 404"),
}
