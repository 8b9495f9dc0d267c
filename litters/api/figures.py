"""The figures that warnings and predictions stand on, and whose they are."""

from typing import Any

from django.http import HttpResponse

from kennel.api.base import KennelView
from kennel.api.rendering import dumps, json_response
from kennel.records import door
from litters.services.figure_list import ListedFigure, figures_of

CAUTION = "Published figures disagree and none replaces a vet. Change one only with your vet, whose name stays beside it."


class Figures(KennelView):
    """Every figure a kennel may replace, published and as it stands, with source and status."""

    summary_of = {"get": "Figures behind warnings and predictions"}
    answer_schema = {
        "type": "object",
        "required": ["results", "caution"],
        "properties": {
            "results": {"type": "array", "items": {"type": "object"}},
            "caution": {"type": "string"},
        },
    }

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """All of them; `key` and `area` are those of agreed-figures."""
        with door.read(self.here, self.actor, self.at):
            found = figures_of(self.here.id)
        return json_response(dumps({"results": [_answer(one) for one in found], "caution": CAUTION}))


def _answer(one: ListedFigure) -> dict[str, Any]:
    return {
        "area": one.area.value,
        "key": one.key,
        "about": one.note.about,
        "unit": one.note.unit,
        "published": one.published,
        "value": one.value,
        "agreed_with": None if one.agreed is None else one.agreed.agreed_with,
        "agreed_on": None if one.agreed is None else one.agreed.agreed_on,
        "source": one.note.source,
        "status": one.note.status,
        "other_sources": one.note.differs,
    }
