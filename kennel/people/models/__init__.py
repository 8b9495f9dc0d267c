"""Identity tables, one aggregate per file."""

from kennel.people.models.carer import Carer
from kennel.people.models.device import Device, PairingCode
from kennel.people.models.kennel import Kennel
from kennel.people.models.membership import Invitation, InvitationLetter, Membership
from kennel.people.models.tablet import TabletTurn

__all__ = [
    "Carer",
    "Device",
    "Invitation",
    "InvitationLetter",
    "Kennel",
    "Membership",
    "PairingCode",
    "TabletTurn",
]
