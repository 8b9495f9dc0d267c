"""Adding a passkey."""

from allauth.mfa.webauthn.forms import AddWebAuthnForm
from django import forms


class PasskeyForm(AddWebAuthnForm):  # type: ignore[misc]  # allauth is not typed
    """A passkey is always one that signs in by itself: kept on the device, opened by finger, face or its PIN.

    A mere second factor would be of no help when passwords are being guessed and their door is limited.
    """

    name = forms.CharField(required=False, max_length=80, label="Name of this passkey")
    passwordless = forms.BooleanField(required=True, initial=True)
