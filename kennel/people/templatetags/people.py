"""Tags of the sign-in and account pages."""

from typing import Any

from django import template
from django.forms import BaseForm

register = template.Library()

# allauth's pages share one frame; their headings are ours.
HEADINGS = {
    "account_login": "Sign in",
    "account_signup": "Make an account",
    "account_logout": "Sign out",
    "account_inactive": "This account is switched off",
    "account_reauthenticate": "Confirm that it is you",
    "account_email": "Your e-mail addresses",
    "account_email_verification_sent": "Look into your mail",
    "account_confirm_email": "Confirm your address",
    "account_change_password": "Change your password",
    "account_set_password": "Set a password",
    "account_reset_password": "Forgotten password",
    "account_reset_password_done": "Look into your mail",
    "account_reset_password_from_key": "Set a new password",
    "account_reset_password_from_key_done": "Your new password is set",
    "account_confirm_login_code": "Enter the code",
    "mfa_index": "Ways to sign in",
    "mfa_authenticate": "Second step",
    "mfa_reauthenticate": "Confirm that it is you",
    "mfa_activate_totp": "Authenticator app",
    "mfa_deactivate_totp": "Stop using the authenticator app",
    "mfa_view_recovery_codes": "Recovery codes",
    "mfa_generate_recovery_codes": "New recovery codes",
    "mfa_list_webauthn": "Your passkeys",
    "mfa_add_webauthn": "Add a passkey",
    "mfa_edit_webauthn": "Rename a passkey",
    "mfa_remove_webauthn": "Remove a passkey",
    "mfa_reauthenticate_webauthn": "Confirm that it is you",
    "usersessions_list": "Where you are signed in",
}


@register.simple_tag(takes_context=True)
def account_heading(context: Any) -> str:
    """Heading and title of a sign-in or account page, by the name of its address."""
    match = getattr(context.get("request"), "resolver_match", None)
    return HEADINGS.get(match.url_name if match else "", "Your account")


@register.inclusion_tag("people/fields.html")
def form_fields(form: BaseForm) -> dict[str, Any]:
    """A Django form's errors and fields, in the look of the record forms."""
    return {"form": form}
