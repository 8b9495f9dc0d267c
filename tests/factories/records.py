"""Any record, made through the same door and service as a page or the API makes it."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from kennel.records import door, service, types
from kennel.records.door import Actor
from kennel.records.ids import new_uid
from tests.factories.people import Place


def make_record(place: Place, type_name: str, *, by: Actor | None = None, **data: Any) -> str:
    """Uid of a new record of the kennel."""
    record_type = types.by_name(type_name)
    assert record_type is not None
    uid = new_uid()
    checked = service.check(record_type.input, data)
    with door.write(place.here, by or place.actor, timezone.now()) as opened:
        outcome = service.create(record_type, [service.NewRecord(0, uid, checked)], opened)[0]
    assert outcome.refusal is None, outcome.refusal
    return str(uid)


@dataclass
class Nest:
    """A dam, her litter, its pups by band."""

    dam: str
    litter: str
    whelped_at: datetime
    pups: dict[str, str] = field(default_factory=dict)

    def born_at(self, band: str) -> datetime:
        """When that pup was born: minutes after the whelping began, which may be the next day."""
        return self.whelped_at + timedelta(minutes=list(self.pups).index(band) + 1)


def make_nest(
    place: Place,
    bands: tuple[str, ...] = ("moss", "rust", "teal"),
    *,
    days_old: float = 4,
    name: str = "Sorrel's",
) -> Nest:
    """A litter of that age, its pups not weighed yet."""
    whelped_at = timezone.now() - timedelta(days=days_old)
    dam = make_record(place, "dog", name=name.removesuffix("'s"), sex="female")
    litter = make_record(place, "litter", name=name, dam=dam, whelped_at=whelped_at.isoformat())
    nest = Nest(dam, litter, whelped_at)
    for order, band in enumerate(bands, 1):
        nest.pups[band] = make_record(
            place,
            "pup",
            litter=litter,
            band=band,
            sex="female",
            birth_order=order,
            born_at=(whelped_at + timedelta(minutes=order)).isoformat(),
        )
    return nest


def weigh(place: Place, pup: str, grams: float, *, hours_ago: float, by: Actor | None = None) -> str:
    """Uid of a weighing of a pup."""
    occurred_at = timezone.now() - timedelta(hours=hours_ago)
    return make_record(place, "weighing", by=by, pup=pup, weight_g=grams, occurred_at=occurred_at.isoformat())
