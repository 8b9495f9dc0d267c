"""The pages of this app and their places in the menu."""

from feeding.web import bottles, bowl, foods, plans
from kennel.people.choices import Role
from kennel.web import menu, shell
from kennel.web.urls import add_page
from litters.web import links

KENNEL = "kennels/<str:kennel>"


def register() -> None:
    """Add them all; called once, from `apps.py`."""
    for route, view, name in (
        ("feed", bowl.FeedPage, "feed"),
        ("foods", foods.FoodsPage, "foods"),
        ("foods/new", foods.NewFoodPage, "food-new"),
        ("foods/<str:uid>/change", foods.ChangeFoodPage, "food-change"),
        ("foods/<str:uid>/stock", foods.StockPage, "food-stock"),
        ("litters/<str:uid>/feeding", plans.FeedingPage, "feeding"),
        ("litters/<str:uid>/feeding/new", plans.NewPlanPage, "feeding-plan-new"),
        ("feeding-plans/<str:uid>/change", plans.ChangePlanPage, "feeding-plan-change"),
        ("feeding-plans/<str:uid>/stages", plans.StagesPage, "feeding-plan-stages"),
        ("litters/<str:uid>/bowl", bowl.BowlPage, "bowl"),
        ("meals/<str:uid>/back", bowl.CameBackPage, "meal-back"),
        ("litters/<str:uid>/bottles", bottles.BottlesPage, "bottles"),
        ("pups/<str:uid>/bottle", bottles.BottlePage, "bottle"),
    ):
        add_page(f"{KENNEL}/{route}", view, name)
    links.add(links.PUP, "Bottle", "web:bottle", Role.CARER, order=30, keep_offline=True)
    links.add(links.LITTER, "Feeding", "web:feeding", order=10, keep_offline=True)
    menu.add("Feed", "web:feed", Role.CARER, order=15, quick=True)
    menu.add("Foods", "web:foods", order=40)
    shell.add_files("feeding/bowl.js")
