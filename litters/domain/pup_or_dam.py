"""One slow pup, or all of them: whether to look at the pup first, or at the dam and the box.

All pups slow at once points to the dam (milk, udder, fever) or the box, one slow pup to the pup (common
practice, no source); several not gaining: think of the dam (Dog Owner's Home Veterinary Handbook, ch. 17,
verified in text).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

NOBODY, PUP, SEVERAL, DAM_OR_BOX, UNKNOWN = "nobody", "pup", "several", "dam_or_box", "unknown"
SHARE_OF_DAM = 2.0 / 3.0
SMALLEST_LITTER = 3

_WORDS = {
    NOBODY: "Every pup with two weighings gains.",
    PUP: "The others gain, so look at the pup first: temperature, mouth, belly, sucking.",
    SEVERAL: "Several are slow: look at the pups, and at the dam's milk, udder and temperature and the box.",
    DAM_OR_BOX: (
        "Nearly all are slow at once: look at the dam first (milk in every gland, udder, temperature, "
        "appetite, discharge) and at the box (warmth, draught). Call the vet if she is unwell."
    ),
    UNKNOWN: "Too few pups with two weighings to tell.",
}


@dataclass(frozen=True)
class PupOrDam:
    """Where to look first: nobody, pup, several, dam_or_box or unknown; with the names and the words.

    not_weighed: pups without a gain to judge; they count neither as slow nor as gaining.
    """

    verdict: str
    slow_pups: tuple[str, ...]
    gaining_pups: tuple[str, ...]
    not_weighed: tuple[str, ...]
    words: str


def pup_or_dam(slow_by_pup: Sequence[tuple[str, bool | None]]) -> PupOrDam:
    """Where to look first, from (pup, slow?) pairs; None = no gain to judge by."""
    slow = tuple(pup for pup, is_slow in slow_by_pup if is_slow is True)
    gaining = tuple(pup for pup, is_slow in slow_by_pup if is_slow is False)
    unknown = tuple(pup for pup, is_slow in slow_by_pup if is_slow is None)
    verdict = _verdict(len(slow), len(slow) + len(gaining))
    return PupOrDam(verdict, slow, gaining, unknown, _WORDS[verdict])


def _verdict(slow: int, judged: int) -> str:
    if judged == 0:
        return UNKNOWN
    if slow == 0:
        return NOBODY
    if judged == 1:
        return UNKNOWN  # an only pup has nobody to be compared with
    if judged >= SMALLEST_LITTER and slow >= SHARE_OF_DAM * judged:
        return DAM_OR_BOX
    return PUP if slow == 1 else SEVERAL
