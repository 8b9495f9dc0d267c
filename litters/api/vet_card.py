"""What to say to the vet about a dam in labour, in one breath, with the flags it stands on."""

from dataclasses import asdict
from typing import Any

from django.http import HttpResponse

from kennel.api.base import KennelView
from kennel.api.rendering import dumps, json_response
from kennel.records import door
from litters.api.answers import answer, fact, head_of
from litters.services.labour import Labour, labour_of

METHOD = (
    "Timers read from the whelping log; the shorter published figure rings for advice, the longer one sends the dam "
    "off, two different signs at once mean go now."
)
SOURCE = "Named with each flag, with whoever set its limit."


class LitterVetCard(KennelView):
    """The card to read to the vet (at most 55 words), the flags of labour and what comes next."""

    summary_of = {"get": "Vet card and labour flags of a litter"}
    answer_schema = answer(
        ("card", "labour", "method", "caution"), card={"type": "object"}, labour={"type": "object"}
    )

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """The words, what had to be left out, and the report of the labour at this instant."""
        with door.read(self.here, self.actor, self.at):
            head = head_of(self, uid)
            found = labour_of(head, self.here, self.at)
        told = vet_card_answer(found) | {"litter": head.uid, "dam": head.dam_uid, "at": self.at}
        return json_response(dumps(told))


def vet_card_answer(found: Labour) -> dict[str, Any]:
    """Labour and card as plain values."""
    report = asdict(found.report)
    at = found.report.at
    read_at, degrees = found.temperature or (None, None)
    return {
        "card": asdict(found.card),
        "labour": report,
        "inputs": [
            fact("dam's temperature", degrees, "C", since=read_at, at=at),
            fact("pups born", found.report.born, at=at),
            fact("pups still expected", found.report.still_expected, at=at) | {"from": found.expected_by},
        ],
        "method": METHOD,
        "source": SOURCE,
        "caution": found.report.caution,
    }
