"""Give a kennel its keeper back, from the machine the server runs on."""

from typing import Any
from uuid import UUID

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.validators import validate_email
from django.utils import timezone

from kennel.people import selectors
from kennel.people.models import Carer
from kennel.people.services.accounts import account_way_in
from kennel.people.services.members import member_make_keeper
from kennel.records import door


class Command(BaseCommand):
    """`keeper_recover KENNEL EMAIL`: make somebody keeper and print a one-time link to a new password."""

    help = (
        "Make the carer with this address a keeper of the kennel and print a link to a new password."
        " Without arguments it lists the kennels. Nothing that was recorded changes."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Kennel, address, and what to do about an unknown address or lost second factors."""
        parser.add_argument("kennel", nargs="?", type=UUID, help="uid of the kennel")
        parser.add_argument("email", nargs="?", help="address of the person who is to be keeper")
        parser.add_argument("--name", help="make an account with this name if the address has none")
        parser.add_argument(
            "--drop-second-factors",
            action="store_true",
            help="also delete the account's passkeys, authenticator app and recovery codes",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Recover, or list."""
        if options["kennel"] is None or options["email"] is None:
            for one, keepers in selectors.kennels_with_keepers():
                self.stdout.write(f"{one.uid}  {one.name}  keepers: {', '.join(keepers) or 'none'}")
            return
        kennel = selectors.kennel_by_uid(options["kennel"])
        if kennel is None:
            raise CommandError("There is no kennel with this uid.")
        carer = self._carer(options["email"].strip().lower(), options["name"])
        here = selectors.here(kennel)
        with door.write(here, door.SERVER, timezone.now()) as opened:
            member_make_keeper(carer, opened)
        way_in = account_way_in(carer, drop_second_factors=options["drop_second_factors"])
        self.stdout.write(f"{carer.name} ({carer.email}) is a keeper of {kennel.name}.")
        self.stdout.write(f"Set a new password, once: {settings.ORIGIN}{way_in.path}")
        if way_in.second_factors:
            self.stdout.write(
                "The account keeps its passkeys or authenticator app and will ask for one after the password."
                " If they are lost, run this again with --drop-second-factors."
            )

    @staticmethod
    def _carer(email: str, name: str | None) -> Carer:
        carer = selectors.carer_by_address(email)
        if carer is not None:
            if not carer.is_active:
                raise CommandError("This account is switched off.")
            return carer
        if not name:
            raise CommandError("Nobody has an account with this address. Add --name to make one.")
        try:
            validate_email(email)
        except ValidationError:
            raise CommandError("This is not an e-mail address.") from None
        return Carer.objects.create_user(email, name=name)
