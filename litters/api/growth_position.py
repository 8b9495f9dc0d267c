"""Where a pup's weights stand in the growth tables that a vet supplied."""

from typing import Any

from django.http import HttpResponse
from pydantic import BaseModel

from kennel.api.base import KennelView
from kennel.api.rendering import dumps, json_response
from kennel.records import door
from kennel.records.fields import Uid
from litters.api.answers import OBJECTS, TEXTS, answer, fact, weight_facts
from litters.api.pups import pup_of
from litters.domain.centiles import CentilePath, Standing
from litters.services.growth_positions import (
    POSITION_CAUTION,
    GrowthPosition,
    GrowthPositions,
    growth_positions,
)

METHOD = (
    "z = ((y/M)^L - 1)/(L S), or ln(y/M)/S when L is 0; L, M and S straight between the rows of the table; centile = "
    "100 times the normal distribution at z; lines counted strictly between the first weighing covered and the newest."
)
SOURCE = (
    "Cole & Green 1992, Stat Med 11:1305-1319 (from memory); Salt et al. 2020, PLoS ONE 15(9):e0238521: fewer than 5 % "
    "of healthy dogs cross more than two lines (how far lines lie apart: from memory). The values: named with each table."
)


class GrowthPositionQuery(BaseModel, extra="forbid"):
    """table: uid of one growth table, read even when it is for other dogs; without it every table that fits."""

    table: Uid | None = None


class PupGrowthPosition(KennelView):
    """A pup's z-scores and centiles, and the centile lines it crossed, by tables a vet supplied."""

    summary_of = {"get": "A pup's weights in growth tables"}
    query_input = GrowthPositionQuery
    slugs = ("validation",)
    answer_schema = answer(
        ("pup", "at", "positions", "silent", "method", "source", "caution"), positions=OBJECTS, silent=TEXTS
    )

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Newest table first; `silent` says why a table says nothing."""
        asked = self.query(GrowthPositionQuery)
        with door.read(self.here, self.actor, self.at):
            pup = pup_of(self, uid)
            found = growth_positions(pup, self.here.id, self.at, asked.table)
        return json_response(dumps(_answer(found) | {"pup": pup.uid, "at": self.at}))


def _answer(found: GrowthPositions) -> dict[str, Any]:
    return {
        "positions": [_position(one, found) for one in found.positions],
        "silent": found.silent,
        "inputs": [
            fact("expected adult weight", found.adult_kg, "kg", at=found.at) | {"from": found.adult_from},
            *weight_facts(found.weights, found.at),
        ],
        "method": METHOD,
        "source": SOURCE,
        "caution": POSITION_CAUTION,
    }


def _position(one: GrowthPosition, found: GrowthPositions) -> dict[str, Any]:
    table = one.table
    return {
        "table": table.uid,
        "name": table.name,
        "supplied_by": table.supplied_by,
        "supplied_on": table.supplied_on,
        "source": table.source,
        "from_day": table.values.from_day,
        "to_day": table.values.to_day,
        "misfit": one.misfit,
        "questions": table.values.questions(),
        "weights_not_covered": one.not_covered,
        **_path(one.path, found),
    }


def _path(path: CentilePath | None, found: GrowthPositions) -> dict[str, Any]:
    if path is None:
        return {
            "first": None,
            "newest": None,
            "lines_crossed": None,
            "direction": None,
            "crosses_too_many": None,
            "words": "No weight at an age it covers.",
        }
    return {
        "first": _standing(path.first, found),
        "newest": _standing(path.newest, found),
        "lines_crossed": path.lines_crossed,
        "direction": path.direction,
        "crosses_too_many": path.is_too_many,
        "words": path.words,
    }


def _standing(one: Standing, found: GrowthPositions) -> dict[str, Any]:
    return {
        "weighed_at": found.weighed_at(one),
        "age_days": round(one.age_days, 2),
        "weight_g": round(one.weight_kg * 1000, 1),
        "z": round(one.z, 3),
        "centile": round(one.centile, 1),
    }
