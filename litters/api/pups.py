"""Finding the pup a path asks about."""

from kennel.api.base import KennelView
from kennel.api.preconditions import parse_uid
from kennel.records.refusals import Refusal
from litters.selectors_litters import PupHead, pup_head


def pup_of(view: KennelView, uid: str) -> PupHead:
    """The pup of the path, inside an open door.  Raises Refusal("not-found")."""
    found = pup_head(parse_uid(uid), view.here.id)
    if found is None:
        raise Refusal("not-found")
    return found
