"""Which pup of a litter a label of somebody's sheet means: its band's word, its name or its number."""

import re
from dataclasses import dataclass

_FILLERS = {"pup", "puppy", "band", "collar", "ribbon", "no", "nr", "number", "weight", "weights", "wt"}


@dataclass(frozen=True)
class PupLabels:
    """One pup of the litter and what it may be called; `key` is what readings carry.  Number: its place in the birth order."""

    key: str
    band: str = ""
    name: str = ""
    number: int | None = None


class LitterLabels:
    """Finds pups of one litter by label.  A label that two pups answer to finds none of them."""

    def __init__(self, pups: tuple[PupLabels, ...]) -> None:
        self._by_word: dict[str, set[str]] = {}
        self._by_number: dict[int, set[str]] = {}
        for pup in pups:
            for word in (pup.band, pup.name):
                if folded(word):
                    self._by_word.setdefault(folded(word), set()).add(pup.key)
            if pup.number is not None:
                self._by_number.setdefault(pup.number, set()).add(pup.key)

    def find(self, label: str) -> str | None:
        """Key of the pup a label means ("red", "Pup 3", "#3", "Fern (red)", "1 red"); None for unknown or doubtful."""
        found = self._exactly(label)
        if not found:
            parts = [part for part in re.split(r"[/()|,;]", label) if part.strip()]
            # A number beside an unknown word is no name: "violet (1)" need not be the first pup.
            found = set().union(*(self._worded(part) for part in parts)) if len(parts) > 1 else set()
        if not found and (numbered := re.fullmatch(r"#?([0-9]{1,2})[ .:)-]+(.+)", label.strip())):
            found = self._worded(numbered[2])
        return next(iter(found)) if len(found) == 1 else None

    def _exactly(self, label: str) -> set[str]:
        if found := self._worded(label):
            return found
        number = re.fullmatch(r"#?\s*([0-9]{1,2})\.?", _without_fillers(label))
        return self._by_number.get(int(number[1]), set()) if number else set()

    def _worded(self, label: str) -> set[str]:
        return self._by_word.get(folded(label)) or self._by_word.get(_without_fillers(label)) or set()


def _without_fillers(label: str) -> str:
    return " ".join(word for word in folded(label).split() if word.strip(".:") not in _FILLERS)


def folded(text: str) -> str:
    """Upper and lower case, spaces and underscores make no difference."""
    return " ".join(text.replace("_", " ").casefold().split())
