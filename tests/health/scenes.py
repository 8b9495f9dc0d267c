"""Hollin Bank with pups, weights, medicines and plans at an instant of the test's choosing."""

from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from health.domain.published_labels import PUBLISHED_LABELS
from health.medicine_data import body_of
from tests.kennel.duties.scenes import AT, Scene

# Whelped on 7 January 2026 at 03:00; AT is 3 February at noon: day 27.
BORN_ON = "2026-01-07"


class Health(Scene):
    """The litter of the duties' scenes, weighed, with a cupboard of medicines copied from published labels."""

    def __init__(self, pups: int = 3, weight_g: float | None = 1800, zone: str = "Europe/London") -> None:
        super().__init__(zone, pups)
        if weight_g is not None:
            for pup in self.pups:
                self.weigh_in(pup, weight_g, AT - timedelta(hours=4))

    def weigh_in(self, pup: UUID, grams: float, at: datetime, **data: Any) -> UUID:
        """A weight of a pup."""
        given = {"pup": str(pup), "weight_g": grams, "occurred_at": at.isoformat(), **data}
        return self.create("weighing", given, at, self.idris)

    def label(self, key: str, **fields: Any) -> UUID:
        """A medicine copied from a published label, and changed."""
        return self.create("medicine", {**body_of(PUBLISHED_LABELS[key]), **fields})

    def plan_for(self, scheme: str, medicine: UUID | None = None, at: datetime = AT, **fields: Any) -> UUID:
        """A treatment plan of the litter."""
        given = {"litter": str(self.litter), "scheme": scheme, **fields}
        if medicine is not None:
            given["medicine"] = str(medicine)
        return self.create("treatment-plan", given, at)

    def give(self, pup: UUID, medicine: UUID, at: datetime, **data: Any) -> UUID:
        """A dose that was given."""
        given = {"pup": str(pup), "medicine": str(medicine), "occurred_at": at.isoformat(), **data}
        return self.create("treatment", given, at, self.idris)

    def of(self, kind: str, day: str, state: str = "open") -> list[dict[str, Any]]:
        """Duties of a kind on a day (UTC) in a state."""
        return self.duties(f"kind = '{kind}' AND state = '{state}' AND due_at::date = '{day}'")

    def row(self, table: str, uid: UUID) -> dict[str, Any]:
        """A stored row."""
        return self.rows(f"SELECT * FROM {table} WHERE kennel_id = %(k)s AND uid = '{uid}'")[0]

    def warnings(self, treatment: UUID) -> dict[str, str]:
        """Code -> text of the advice kept beside a treatment."""
        import json

        kept = self.row("health_treatment", treatment)["warnings"]
        return {one["code"]: one["text"] for one in (json.loads(kept) if isinstance(kept, str) else kept)}
