"""Writes: create, update, delete and restore lists of records of one type.  The API's single endpoints pass one.

Every function runs inside `kennel.records.door.write`.  A refused item does not refuse the others.
Other packages import from here; the modules below are its seams.
"""

from kennel.records.service.checks import check, refusal_of
from kennel.records.service.correcting import update
from kennel.records.service.creating import create
from kennel.records.service.deleting import delete
from kennel.records.service.drafting import AHEAD
from kennel.records.service.items import Change, Draft, Kind, NewRecord, Outcome, Saved
from kennel.records.service.replays import replays

__all__ = [
    "AHEAD",
    "Change",
    "Draft",
    "Kind",
    "NewRecord",
    "Outcome",
    "Saved",
    "check",
    "create",
    "delete",
    "refusal_of",
    "replays",
    "update",
]
