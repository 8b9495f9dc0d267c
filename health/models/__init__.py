"""Records about medicines, plans, what was given, what happened, and whom to keep an eye on."""

from health.models.health_event import HealthEvent
from health.models.medicine import Medicine
from health.models.treatment import Treatment
from health.models.treatment_plan import TreatmentPlan
from health.models.watch import Watch

__all__ = ["HealthEvent", "Medicine", "Treatment", "TreatmentPlan", "Watch"]
