"""Every figure a kennel may replace: as published, as it stands, where it comes from, how far that was checked."""

from collections.abc import Mapping
from dataclasses import dataclass

from litters.choices import FigureArea
from litters.domain.figure_notes import (
    GESTATION_NOTES,
    GROWTH_NOTES,
    INBREEDING_NOTES,
    LABOUR_NOTES,
    FigureNote,
)
from litters.services.figures import (
    Agreed,
    agreed_figures,
    gestation_keys,
    growth_keys,
    inbreeding_keys,
    labour_keys,
    standing,
)

NOTES: Mapping[FigureArea, Mapping[str, FigureNote]] = {
    FigureArea.GROWTH: GROWTH_NOTES,
    FigureArea.GESTATION: GESTATION_NOTES,
    FigureArea.LABOUR: LABOUR_NOTES,
    FigureArea.INBREEDING: INBREEDING_NOTES,
}


@dataclass(frozen=True, slots=True)
class ListedFigure:
    """One figure.  published: None where no source names one; agreed: what stands instead."""

    area: FigureArea
    key: str
    note: FigureNote
    published: float | None
    agreed: Agreed | None

    @property
    def value(self) -> float | None:
        """The figure that is used."""
        return self.published if self.agreed is None else self.agreed.value

    @property
    def value_text(self) -> str:
        """The figure that is used, with its unit."""
        return self._text(self.value)

    @property
    def published_text(self) -> str:
        """The published figure, with its unit."""
        return self._text(self.published)

    def _text(self, value: float | None) -> str:
        return "no figure" if value is None else f"{value:.6g} {self.note.unit}"


def figures_of(kennel_id: int) -> list[ListedFigure]:
    """All figures in the order of their notes.  One query; inside an open door."""
    agreed = agreed_figures(kennel_id)
    published: dict[FigureArea, Mapping[str, float]] = {
        FigureArea.GROWTH: growth_keys(),
        FigureArea.GESTATION: gestation_keys(),
        FigureArea.LABOUR: labour_keys(),
        FigureArea.INBREEDING: inbreeding_keys(),
    }
    found = []
    for area, notes in NOTES.items():
        stands = standing(agreed, area)
        for key, note in notes.items():
            value = published[area].get(key)
            default = None if value is None else float(value)
            found.append(ListedFigure(area, key, note, default, stands.get(key)))
    return found
