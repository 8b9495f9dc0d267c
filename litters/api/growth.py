"""How the pups of a litter grow: who needs an eye kept on, and why, in words."""

from dataclasses import asdict
from typing import Any

from django.http import HttpResponse

from kennel.api.base import KennelView
from kennel.api.rendering import dumps, json_response
from kennel.records import door
from litters.api.answers import OBJECTS, answer, fact, head_of
from litters.domain.growth import LEVEL_WORDS
from litters.services.assessments import LitterAssessment, PupAssessment, assess_litters

METHOD = (
    "Each pup against published limits, its littermates and its own curve; the highest reason gives the level. "
    "A missing weighing is never taken as no change."
)
SOURCE = "Named with each reason; a status says how far each source was read."
CAUTION = (
    "It points at pups, it does not find what ails them. A pup that is cold, limp or does not suck needs warmth and "
    "the vet whatever its weight says."
)


class LitterGrowth(KennelView):
    """Which pups to keep an eye on and why, pup or dam, and readings that look like a slip."""

    summary_of = {"get": "Growth of a litter's pups, judged"}
    answer_schema = answer(
        ("pups", "where_to_look", "slips", "method", "caution"), pups=OBJECTS, slips=OBJECTS
    )

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Every pup that is here, with level, reasons, newest weight and its age, and what is missing."""
        with door.read(self.here, self.actor, self.at):
            head = head_of(self, uid)
            found = assess_litters([head.uid], self.here.id, self.at)[head.uid]
        return json_response(dumps(growth_answer(found)))


def growth_answer(found: LitterAssessment) -> dict[str, Any]:
    """An assessed litter as plain values."""
    look = asdict(found.where_to_look)
    return {
        "litter": found.litter.uid,
        "at": found.at,
        "pups": [_pup(one) for one in found.pups],
        "where_to_look": look,
        "slips": [
            {
                "kind": slip.kind,
                "words": slip.words,
                "pups": [found.uid_of(called) for called in slip.pups],
                "would_fit": [
                    {"pup": found.uid_of(called), "weight_g": round(weight_g, 1)}
                    for called, weight_g in slip.would_fit
                ],
            }
            for slip in found.slips
        ],
        "not_weighed": [one.pup.uid for one in found.pups if one.found.is_weighing_missing],
        "inputs": [
            fact("adult_weight", found.adult_weight_kg, "kg", at=found.at)
            | {"from": found.adult_weight_from},
            *(
                fact(
                    f"weight of {one.found.pup}", one.pup.weight_g, "g", since=one.pup.weighed_at, at=found.at
                )
                for one in found.pups
            ),
        ],
        "method": METHOD,
        "source": SOURCE,
        "caution": CAUTION,
    }


def _pup(one: PupAssessment) -> dict[str, Any]:
    told = asdict(one.found)
    called = told.pop("pup")
    return {
        "pup": one.pup.uid,
        "called": called,
        "level_words": LEVEL_WORDS[one.found.level],
        "weighed_at": one.pup.weighed_at,
        **told,
    }
