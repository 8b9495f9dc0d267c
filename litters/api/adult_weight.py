"""What a pup may weigh when grown."""

from dataclasses import asdict
from typing import Any, Literal

from django.http import HttpResponse
from pydantic import BaseModel

from kennel.api.base import KennelView
from kennel.api.rendering import dumps, json_response
from kennel.records import door
from litters.api.answers import OBJECTS, TEXTS, answer, fact, weight_facts
from litters.api.pups import pup_of
from litters.selectors_litters import litter_heads
from litters.services.adult_weights import adult_weights


class AdultWeightQuery(BaseModel):
    """size: size class of the breed, for the published ages of growth."""

    size: Literal["", "small", "medium", "large"] = ""


class PupAdultWeight(KennelView):
    """Expected adult weight of a pup, a range for each model that can say something."""

    summary_of = {"get": "Expected adult weight of a pup"}
    query_input = AdultWeightQuery
    slugs = ("validation",)
    answer_schema = answer(("ranges", "silent", "method", "caution"), ranges=OBJECTS, silent=TEXTS)

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """Ranges with their model, basis and caution, and why the other models say nothing."""
        asked = self.query(AdultWeightQuery)
        with door.read(self.here, self.actor, self.at):
            pup = pup_of(self, uid)
            head = litter_heads([pup.litter], self.here.id)[pup.litter]
            found = adult_weights(pup.id, pup.born_at, pup.sex, asked.size, head, self.here.id, self.at)
        told = {
            "pup": pup.uid,
            "at": self.at,
            "ranges": [asdict(one) for one in found.ranges],
            "silent": found.silent,
            "inputs": [
                fact("dam's usual weight", head.dam_kg, "kg", at=self.at),
                fact("sire's usual weight", head.sire_kg, "kg", at=self.at),
                *weight_facts(found.weights, self.at),
            ],
            "method": "Parents; least-squares Gompertz and logistic curves; one weight on published ages of growth.",
            "source": "Helmink et al. 2000, J Anim Sci 78:27-32; Posada et al., Rev MVZ Cordoba.",
            "caution": "Models differ by more than each one's range; none is a target to feed towards.",
        }
        return json_response(dumps(told))
