"""A checker of histories in Jepsen's manner: what clients were told, against what the database holds in the end.

Acknowledged => present once.  Not acknowledged => present at most once.  Refused => absent.  A uid nobody sent is a
row from nowhere.  For single records: each acknowledged edit stands in the history once, versions have no gap.
"""

import threading
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from itertools import pairwise


class Said(Enum):
    """What a client was told about one request."""

    YES = "acknowledged"
    NO = "refused"
    UNKNOWN = "no answer"


@dataclass
class History:
    """What clients tried to make, and what each attempt was answered.  Threads may write into one history."""

    told: dict[str, list[Said]] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def note(self, uid: str, said: Said) -> None:
        """One attempt and its answer."""
        with self._lock:
            self.told.setdefault(uid, []).append(said)

    def note_status(self, uid: str, status: int) -> None:
        """The same from an HTTP status: 2xx yes, 4xx no, 5xx and 0 unknown."""
        self.note(uid, Said.YES if 200 <= status < 300 else Said.NO if 400 <= status < 500 else Said.UNKNOWN)

    @property
    def acknowledged(self) -> set[str]:
        """Uids that some answer acknowledged."""
        return {uid for uid, said in self.told.items() if Said.YES in said}


def faults_of_creates(history: History, present: Iterable[str]) -> list[str]:
    """Sentences about what is wrong; empty when the database kept every promise."""
    there = Counter(present)
    found = []
    for uid, said in history.told.items():
        count = there.get(uid, 0)
        if Said.YES in said and count == 0:
            found.append(f"lost: {uid} was acknowledged and is not there")
        if count > 1:
            found.append(f"doubled: {uid} is there {count} times")
        if count and set(said) == {Said.NO}:
            found.append(f"refused: {uid} was refused each time and is there")
    found += [f"from nowhere: {uid} is there and nobody sent it" for uid in there if uid not in history.told]
    return sorted(found)


def faults_of_feed(entries: Sequence[Mapping[str, object]], expected: Mapping[str, int]) -> list[str]:
    """Faults of a feed as one reader saw it: order of `seq`, and each uid's last version against the server's."""
    found = []
    numbers = [int(str(entry["seq"])) for entry in entries]
    found += [f"out of order: {b} after {a}" for a, b in pairwise(numbers) if b <= a]
    last: dict[str, int] = {}
    for entry in entries:
        uid, version = str(entry["uid"]), int(str(entry["version"]))
        if version < last.get(uid, 0):
            found.append(f"backwards: {uid} from version {last[uid]} to {version}")
        last[uid] = version
    found += [f"missed: {uid} version {v}" for uid, v in expected.items() if last.get(uid) != v]
    return found


def faults_of_edits(acknowledged: Sequence[int], versions: Sequence[int]) -> list[str]:
    """Faults of one record's edits: versions acknowledged to clients against those of its history, oldest first."""
    found = []
    if list(versions) != list(range(1, len(versions) + 1)):
        found.append(f"gap: the history holds versions {list(versions)}")
    for version, count in Counter(acknowledged).items():
        if count > 1:
            found.append(f"lost update: version {version} was given to {count} clients")
        if version not in versions:
            found.append(f"lost: version {version} was acknowledged and is not in the history")
    return found
