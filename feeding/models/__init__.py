"""Records about foods, what a litter gets, what was offered and what came back."""

from feeding.models.bottle_feed import BottleFeed
from feeding.models.feeding_plan import FeedingPlan
from feeding.models.food import Food
from feeding.models.meal import Meal
from feeding.models.stock_move import StockMove

__all__ = ["BottleFeed", "FeedingPlan", "Food", "Meal", "StockMove"]
