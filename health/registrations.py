"""The record types this app adds.  Reading this list tells what the health part of the API offers."""

from health import inputs, models
from health.services.plans import plans_prepare
from health.services.treatments import treatments_prepare
from kennel.people.choices import Role
from kennel.records.types import RecordType, register
from litters.services.presence import presence_prepare

MEDICINE = register(
    RecordType(
        model=models.Medicine,
        input=inputs.MedicineInput,
        plural="medicines",
        doc="Medicines as their own labels describe them: strength, dose, minimum age and weight, who prescribes.",
        write_role=Role.KEEPER,
        filters=("purpose", "in_use"),
    )
)
TREATMENT_PLAN = register(
    RecordType(
        model=models.TreatmentPlan,
        input=inputs.TreatmentPlanInput,
        plural="treatment-plans",
        doc="Worming schemes and vaccination series of litters and dogs, chosen from the published ones and editable.",
        prepare=plans_prepare,
        filters=("kind",),
    )
)
TREATMENT = register(
    RecordType(
        model=models.Treatment,
        input=inputs.TreatmentInput,
        plural="treatments",
        doc="Doses that were given, with the weight they stand on, lot and expiry, and what became of them.",
        prepare=treatments_prepare,
        filters=("outcome", "lot"),
    )
)
HEALTH_EVENT = register(
    RecordType(
        model=models.HealthEvent,
        input=inputs.HealthEventInput,
        plural="health-events",
        doc="Diarrhoea, injuries, vet visits, tests and the like.",
        prepare=presence_prepare,
        filters=("kind",),
    )
)
WATCH = register(
    RecordType(
        model=models.Watch,
        input=inputs.WatchInput,
        plural="watches",
        doc="Animals to keep an eye on, with the reasons, until somebody closes it and says why.",
        filters=("level", "closed_by"),
        order="opened_at",
    )
)
