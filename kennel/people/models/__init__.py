"""Identity tables, one aggregate per file."""

from kennel.people.models.carer import Carer
from kennel.people.models.device import Device, PairingCode
from kennel.people.models.kennel import Kennel
from kennel.people.models.membership import Invitation, Membership

__all__ = ["Carer", "Device", "Invitation", "Kennel", "Membership", "PairingCode"]
