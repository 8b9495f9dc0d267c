"""Erasing a contact."""

from typing import Any

from django.http import HttpResponse

from kennel.api.base import KennelView
from kennel.api.preconditions import parse_uid
from kennel.contacts.services import contact_erase
from kennel.people.choices import Role
from kennel.records import door


class ContactErase(KennelView):
    """Forgets a person: personal values are emptied here, in backups restored later, and on devices."""

    write_role = Role.KEEPER
    answer_schema: dict[str, Any] = {"POST": {}}
    answer_status = {"POST": 204}

    def post(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Erase a contact; doing it twice is harmless."""
        with door.write(self.here, self.actor, self.at) as opened:
            contact_erase(parse_uid(uid), opened)
        return HttpResponse(status=204)
