"""What a litter gets: food, way to reckon, stages by age, meal times."""

from django.db import models
from django.db.models import Q

from feeding.choices import MilkNeed, MissingWeight, NeedMethod
from kennel.records.constraints import same_kennel
from kennel.records.models import Record, parent, referable


class FeedingPlan(Record):
    """The feeding of one litter until `ended_on` (that day excluded); one open plan a litter.

    `stages` is a list of {from_day, wall_times, soak {food_parts, water_parts} or null, share_from_food,
    texture, one_soaked_meal}: in force from a completed day of age until the next begins, with as many meals
    a day as it has wall times (the kennel's clock).  `topped_up_share` is the part of its need a pup gets by
    bottle beside the dam, 0 to 1, which only the kennel can know.
    """

    litter = parent("litters.Litter")
    food = parent("feeding.Food")
    method = models.CharField(max_length=20, choices=NeedMethod, default=NeedMethod.GROWTH_NRC)
    missing_weight = models.CharField(max_length=20, choices=MissingWeight, default=MissingWeight.LEAVE_OUT)
    expected_adult_kg = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    stages = models.JSONField()
    soak_minutes = models.PositiveSmallIntegerField(default=120)
    bowls = models.PositiveSmallIntegerField(default=1)
    stale_after_days = models.PositiveSmallIntegerField(default=3)
    warn_within_minutes = models.PositiveSmallIntegerField(default=60)
    milk = parent("feeding.Food", null=True, blank=True)
    milk_need = models.CharField(max_length=20, choices=MilkNeed, default=MilkNeed.NRC)
    topped_up_share = models.DecimalField(max_digits=3, decimal_places=2, null=True, blank=True)
    bottle_every_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    bottle_until_day = models.PositiveSmallIntegerField(default=27)
    dam_food = parent("feeding.Food", null=True, blank=True)
    dam_meals_per_day = models.PositiveSmallIntegerField(default=3)
    ended_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=2000, default="", db_default="", blank=True)

    class Meta(Record.Meta):
        constraints = [
            *Record.Meta.constraints,
            referable(),
            *same_kennel("litter", "food", "milk", "dam_food"),
            models.UniqueConstraint(
                fields=["litter"],
                condition=Q(ended_on=None, deleted_at=None),
                name="feeding_feedingplan_one_open",
                violation_error_message="This litter has a feeding plan already: change it, or end it first.",
            ),
        ]
        indexes = [
            models.Index(fields=["kennel", "-recorded_at", "-id"], name="feeding_feedingplan_list"),
            models.Index(fields=["kennel", "litter"], name="feeding_feedingplan_litter"),
            models.Index(fields=["kennel", "food"], name="feeding_feedingplan_food"),
        ]

    def __str__(self) -> str:
        return "feeding plan"
