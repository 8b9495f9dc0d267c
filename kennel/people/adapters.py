"""How allauth meets our carers."""

import smtplib
from typing import Any

import structlog
from allauth.account.adapter import DefaultAccountAdapter
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from django.conf import settings
from django.http import HttpRequest

from kennel.people import selectors
from kennel.people.addresses import client_address, network_of

log = structlog.get_logger(__name__)
INVITED_KEY = "invited"


class AccountAdapter(DefaultAccountAdapter):  # type: ignore[misc]  # allauth is not typed
    """Names of carers, who may sign up, and whose address counts for limits."""

    def save_user(self, request: Any, user: Any, form: Any, commit: bool = True) -> Any:
        """Fill in the name, then save as usual."""
        user.name = form.cleaned_data.get("name", "")
        return super().save_user(request, user, form, commit)

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Whether this visitor may make an account: all, or (SIGN_UP=invited) the invited and the first."""
        if settings.SIGN_UP == "open" or request.session.get(INVITED_KEY):
            return True
        return not selectors.has_carers()

    def get_client_ip(self, request: HttpRequest) -> str:
        """The address limits count by; a forged X-Forwarded-For does not change it."""
        return network_of(client_address(request))

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        """Send, but let a mail server that is away never stop somebody who signs up or in."""
        try:
            super().send_mail(template_prefix, email, context)
        except (smtplib.SMTPException, OSError) as error:
            log.warning("mail not sent", template=template_prefix, error=type(error).__name__)


class MfaAdapter(DefaultMFAAdapter):  # type: ignore[misc]  # allauth is not typed
    """Names in passkey and authenticator dialogues."""

    def generate_authenticator_name(self, user: Any, type: Authenticator.Type) -> str:
        """Passkey 1, Passkey 2, ..."""
        return f"Passkey {Authenticator.objects.filter(user_id=user.pk, type=type).count() + 1}"

    def _get_site_name(self) -> str:
        return str(settings.MFA_TOTP_ISSUER)
