"""What may be written about a contact, and how it is forgotten."""

from typing import Annotated

from pydantic import Field

from kennel.contacts.models import Contact, ContactKind
from kennel.people.choices import Role
from kennel.records import types
from kennel.records.fields import Line, Name, Note, RecordInput
from kennel.upkeep import erasures

PERSONAL = ("name", "email", "phone", "address", "note")


class ContactInput(RecordInput):
    """A buyer, a vet, somebody else."""

    kind: ContactKind
    name: Name
    email: Annotated[Line, Field(max_length=254, pattern=r"^([^@\s]+@[^@\s]+)?$")] = ""
    phone: Annotated[Line, Field(max_length=40)] = ""
    address: Annotated[Note, Field(max_length=500)] = ""
    note: Note = ""


def register_all() -> None:
    """Register the record type and its erasure."""
    types.register(
        types.RecordType(
            model=Contact,
            input=ContactInput,
            plural="contacts",
            doc="People outside the kennel: buyers, owners, vets. Never cached; can be erased on request.",
            read_role=Role.CARER,
            filters=("kind",),
            no_store=True,
        )
    )
    erasures.ERASABLE["contact"] = (Contact._meta.db_table, dict.fromkeys(PERSONAL, ""))
