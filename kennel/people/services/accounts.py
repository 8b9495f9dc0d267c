"""Accounts of carers: what follows from taking an account back, and the way in for a lost keeper."""

from dataclasses import dataclass

from allauth.account import app_settings as account_settings
from allauth.account.models import EmailAddress
from allauth.account.utils import user_pk_to_url_str
from allauth.mfa.models import Authenticator
from django.urls import reverse

from kennel.people.models import Carer

UNSET_ZONE = "UTC"


def carer_settle(carer: Carer, zone: str) -> None:
    """Give a carer who never chose a zone the zone of the kennel they come to, so that quiet hours fit."""
    if Carer.objects.filter(pk=carer.pk, zone=UNSET_ZONE).update(zone=zone):
        carer.zone = zone


def account_taken_back(carer: Carer) -> bool:
    """After a password reset by mail: drop second factors that may be another's.  Whether any were dropped.

    An address that was never verified can have been signed up by anybody, who may have put a passkey there.
    The mail that was read now proves whose address it is.  Accounts with a verified address keep theirs.
    """
    addresses = EmailAddress.objects.filter(user_id=carer.pk)
    if addresses.filter(verified=True).exists():
        return False
    addresses.filter(email=carer.email).update(verified=True)
    dropped, _ = Authenticator.objects.filter(user_id=carer.pk).delete()
    return bool(dropped)


@dataclass(frozen=True)
class WayIn:
    """A path that lets its holder set a new password for an account, once, for a few days.

    second_factors: how many of them the account will still ask for afterwards.
    """

    carer: Carer
    path: str
    second_factors: int


def account_way_in(carer: Carer, *, drop_second_factors: bool) -> WayIn:
    """A one-time path for a carer who lost every way to sign in.

    drop_second_factors: also delete passkeys, authenticator app and recovery codes.
    """
    if drop_second_factors:
        Authenticator.objects.filter(user_id=carer.pk).delete()
    is_verified = EmailAddress.objects.filter(user_id=carer.pk, verified=True).exists()
    left = Authenticator.objects.filter(user_id=carer.pk).count() if is_verified else 0
    key = account_settings.PASSWORD_RESET_TOKEN_GENERATOR().make_token(carer)
    path = reverse(
        "account_reset_password_from_key", kwargs={"uidb36": user_pk_to_url_str(carer), "key": key}
    )
    return WayIn(carer, path, left)
