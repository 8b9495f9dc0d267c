"""The record types this app adds.  Reading this list tells what the feeding part of the API offers."""

from feeding import inputs, models
from feeding.services.bottle_feeds import bottle_feeds_prepare
from feeding.services.foods import foods_prepare
from feeding.services.meals import meals_prepare
from feeding.services.plans import plans_prepare
from kennel.records.types import Computed, RecordType, register

# What is there: the newest weighing of the stock and what came and went since; meals count by their dry food.
STOCK = Computed(
    sql="trim_scale(stock.mass_g)",
    schema={"type": ["number", "null"], "description": "g in stock; null when nothing is known."},
    join=(
        "LEFT JOIN LATERAL (SELECT m.occurred_at, m.id, m.mass_g FROM feeding_stockmove m"
        " WHERE m.kennel_id = t.kennel_id AND m.food_id = t.id AND m.deleted_at IS NULL AND m.kind = 'counted'"
        " ORDER BY m.occurred_at DESC, m.id DESC LIMIT 1) counted ON true"
        " LEFT JOIN LATERAL (SELECT CASE WHEN counted.id IS NOT NULL OR came.moves > 0 THEN"
        " COALESCE(counted.mass_g, 0) + COALESCE(came.mass_g, 0) - COALESCE(fed.dry_g, 0) END AS mass_g FROM"
        " (SELECT count(*) AS moves, sum(CASE WHEN m.kind = 'bought' THEN m.mass_g ELSE -m.mass_g END) AS mass_g"
        " FROM feeding_stockmove m WHERE m.kennel_id = t.kennel_id AND m.food_id = t.id AND m.deleted_at IS NULL"
        " AND m.kind <> 'counted' AND m.occurred_at > COALESCE(counted.occurred_at, '-infinity')) came,"
        " (SELECT sum(f.dry_g) AS dry_g FROM feeding_meal f WHERE f.kennel_id = t.kennel_id AND f.food_id = t.id"
        " AND f.deleted_at IS NULL AND f.possible_duplicate_of IS NULL"
        " AND f.occurred_at > COALESCE(counted.occurred_at, '-infinity')) fed) stock ON true"
    ),
)

FOOD = register(
    RecordType(
        model=models.Food,
        input=inputs.FoodInput,
        plural="foods",
        doc="Foods and milk replacers with their label analysis and the energy that follows from it.",
        prepare=foods_prepare,
        filters=("kind", "in_use"),
        computed={"stock_g": STOCK},
    )
)
FEEDING_PLAN = register(
    RecordType(
        model=models.FeedingPlan,
        input=inputs.FeedingPlanInput,
        plural="feeding-plans",
        doc="What a litter gets: food, way to reckon, stages by completed days of age, meal times.",
        prepare=plans_prepare,
    )
)
MEAL = register(
    RecordType(
        model=models.Meal,
        input=inputs.MealInput,
        plural="meals",
        doc="Meals offered to litters, what came back, and who did not come to the bowl.",
        prepare=meals_prepare,
    )
)
BOTTLE_FEED = register(
    RecordType(
        model=models.BottleFeed,
        input=inputs.BottleFeedInput,
        plural="bottle-feeds",
        doc="Bottle and tube feeds of pups, with their temperature before.",
        prepare=bottle_feeds_prepare,
    )
)
STOCK_MOVE = register(
    RecordType(
        model=models.StockMove,
        input=inputs.StockMoveInput,
        plural="stock-moves",
        doc="Food bought, used, thrown away or weighed in the store.",
        filters=("kind",),
    )
)
