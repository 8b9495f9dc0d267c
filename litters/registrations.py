"""The record types this app adds.  Reading this list tells what the litters part of the API offers."""

from kennel.people.choices import Role
from kennel.records.store import INSTANT_FORMAT
from kennel.records.types import Computed, RecordType, register
from litters import inputs, models
from litters.services.breeding import matings_prepare, progesterone_prepare, scans_prepare
from litters.services.climates import climates_prepare
from litters.services.dogs import dogs_prepare, pups_prepare
from litters.services.figures import figures_prepare
from litters.services.place_rules import settings_prepare
from litters.services.presence import EVER_ABSENT, presence_prepare
from litters.services.temperatures import temperatures_prepare
from litters.services.weighings import weighings_prepare
from litters.services.whelping import whelping_prepare

NEWEST_WEIGHT = Computed(
    sql=(
        "CASE WHEN newest.weight_g IS NULL THEN NULL ELSE json_build_object('weight_g', trim_scale(newest.weight_g),"
        f" 'occurred_at', to_char(newest.occurred_at AT TIME ZONE 'UTC', {INSTANT_FORMAT})) END"
    ),
    schema={
        "type": ["object", "null"],
        "properties": {
            "weight_g": {"type": "number"},
            "occurred_at": {"type": "string", "format": "date-time"},
        },
    },
    join=(
        "LEFT JOIN LATERAL (SELECT w.weight_g, w.occurred_at FROM litters_weighing w"
        " WHERE w.kennel_id = t.kennel_id AND w.pup_id = t.id AND w.deleted_at IS NULL"
        " ORDER BY w.occurred_at DESC, w.id DESC LIMIT 1) newest ON true"
    ),
)

AWAY_SINCE = Computed(
    sql=f"to_char(away.occurred_at AT TIME ZONE 'UTC', {INSTANT_FORMAT})",
    schema={"type": ["string", "null"], "format": "date-time"},
    # A departure that no later return ended; a pup that came back is here again.
    join=(
        "LEFT JOIN LATERAL (SELECT d.occurred_at FROM litters_departure d"
        " WHERE d.kennel_id = t.kennel_id AND d.pup_id = t.id AND d.deleted_at IS NULL"
        " AND NOT EXISTS (SELECT 1 FROM litters_return r WHERE r.kennel_id = d.kennel_id AND r.pup_id = d.pup_id"
        " AND r.deleted_at IS NULL AND r.occurred_at >= d.occurred_at)"
        " ORDER BY d.occurred_at DESC LIMIT 1) away ON true"
    ),
)

DOG = register(
    RecordType(
        model=models.Dog,
        input=inputs.DogInput,
        plural="dogs",
        doc="Dams, sires and the dogs behind them.",
        prepare=dogs_prepare,
        filters=("sex", "lives_here"),
    )
)
LITTER = register(
    RecordType(
        model=models.Litter,
        input=inputs.LitterInput,
        plural="litters",
        doc="Litters, from the day they are expected.",
    )
)
PUP = register(
    RecordType(
        model=models.Pup,
        input=inputs.PupInput,
        plural="pups",
        doc="Pups, told apart by their bands; each with its newest weight.",
        prepare=pups_prepare,
        filters=("fate", "rearing"),
        order="born_at",
        computed={"newest_weight": NEWEST_WEIGHT, "left_at": AWAY_SINCE},
        needs_look=EVER_ABSENT,
    )
)
WEIGHING = register(
    RecordType(
        model=models.Weighing,
        input=inputs.WeighingInput,
        plural="weighings",
        doc="Weights of pups and grown dogs.",
        prepare=weighings_prepare,
    )
)
TEMPERATURE = register(
    RecordType(
        model=models.Temperature,
        input=inputs.TemperatureInput,
        plural="temperatures",
        doc="Body temperatures of pups and grown dogs.",
        prepare=temperatures_prepare,
    )
)
BOX_CLIMATE = register(
    RecordType(
        model=models.BoxClimate,
        input=inputs.BoxClimateInput,
        plural="box-climate",
        doc="Whelping-box temperature and humidity: where the pups lie, and the area around.",
        prepare=climates_prepare,
    )
)
DEPARTURE = register(
    RecordType(
        model=models.Departure,
        input=inputs.DepartureInput,
        plural="departures",
        doc="Pups that went home or left otherwise.",
        prepare=presence_prepare,
        filters=("kind",),
    )
)
RETURN = register(
    RecordType(
        model=models.Return,
        input=inputs.ReturnInput,
        plural="returns",
        doc="Pups that had left and came back.",
    )
)
BOOKING = register(
    RecordType(
        model=models.Booking,
        input=inputs.BookingInput,
        plural="bookings",
        doc="Pups promised to somebody, and the waiting list.",
    )
)
MILESTONE = register(
    RecordType(
        model=models.Milestone,
        input=inputs.MilestoneInput,
        plural="milestones",
        doc="What a pup did for the first time, and when.",
        prepare=presence_prepare,
        filters=("kind",),
    )
)
SEASON = register(
    RecordType(
        model=models.Season,
        input=inputs.SeasonInput,
        plural="seasons",
        doc="Seasons (heats), with the days a vet read from them.",
    )
)
PROGESTERONE_TEST = register(
    RecordType(
        model=models.ProgesteroneTest,
        input=inputs.ProgesteroneTestInput,
        plural="progesterone-tests",
        doc="Blood samples for progesterone, in the unit the analyser printed.",
        prepare=progesterone_prepare,
    )
)
MATING = register(
    RecordType(
        model=models.Mating,
        input=inputs.MatingInput,
        plural="matings",
        doc="Matings and inseminations, each with what was to be said before it.",
        prepare=matings_prepare,
    )
)
SCAN = register(
    RecordType(
        model=models.Scan,
        input=inputs.ScanInput,
        plural="scans",
        doc="What an ultrasound visit measured, and pups counted by ultrasound or X-ray.",
        prepare=scans_prepare,
    )
)
WHELPING_ENTRY = register(
    RecordType(
        model=models.WhelpingEntry,
        input=inputs.WhelpingEntryInput,
        plural="whelping-entries",
        doc="The whelping log, line by line.",
        prepare=whelping_prepare,
        filters=("kind",),
    )
)
AGREED_FIGURE = register(
    RecordType(
        model=models.AgreedFigure,
        input=inputs.AgreedFigureInput,
        plural="agreed-figures",
        doc="Figures agreed with a vet in place of published ones.",
        prepare=figures_prepare,
        filters=("area",),
        write_role=Role.KEEPER,
    )
)
GROWTH_TABLE = register(
    RecordType(
        model=models.GrowthTable,
        input=inputs.GrowthTableInput,
        plural="growth-tables",
        doc="Centile values by age (L, M, S) that a vet supplied, to read pups of 12 weeks and more against.",
        filters=("sex",),
        write_role=Role.KEEPER,
    )
)
RULE_SETTING = register(
    RecordType(
        model=models.RuleSetting,
        input=inputs.RuleSettingInput,
        plural="rule-settings",
        doc="Rules of the place that the kennel switched off or read itself.",
        prepare=settings_prepare,
        write_role=Role.KEEPER,
    )
)
WAIVER = register(
    RecordType(
        model=models.Waiver,
        input=inputs.WaiverInput,
        plural="waivers",
        doc="What keeps a pup from leaving, set aside with a reason and a name.",
        write_role=Role.KEEPER,
    )
)
