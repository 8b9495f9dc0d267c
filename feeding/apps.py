"""App configuration of the feeding app: registers what it adds to the platform."""

from django.apps import AppConfig


class FeedingConfig(AppConfig):
    name = "feeding"

    def ready(self) -> None:
        """Register record types, duty kinds, computed reads, pages, and what follows from facts."""
        from feeding import day_totals, duty_kinds, registrations, timeline_sources  # noqa: F401 - importing registers
        from feeding import demo as feeding_demo
        from feeding.api import views
        from feeding.services import bottle_feeds, following, meals, plans
        from feeding.web import fact_links, registration
        from kennel import demo
        from kennel.api.urls import add_view
        from kennel.duties.pages import record_fact_on
        from kennel.records import types
        from litters import timeline
        from litters.rollup import contributions
        from litters.rollup.services import marking

        duty_kinds.register()
        registration.register()
        record_fact_on("meal", fact_links.meal)
        record_fact_on("bottle-round", fact_links.bottles)
        demo.add(20, feeding_demo.fill)
        types.react(["feeding-plan"], plans.plans_follow)
        types.react(["litter"], plans.litters_follow)
        types.react(["meal"], meals.meals_follow)
        types.react(["bottle-feed"], bottle_feeds.bottle_feeds_follow)
        types.react(["meal", "bottle-feed"], marking.on_facts)
        contributions.add(day_totals.FEEDING_TOTALS)
        contributions.add_authors("feeding_meal", by="litter")
        contributions.add_authors("feeding_bottlefeed", by="pup")
        for source in timeline_sources.SOURCES:
            timeline.add_source(source)
        types.react(["food"], following.foods_follow)
        types.react(["departure", "return"], following.presence_follows)
        types.react(["pup"], following.pups_follow)
        add_view("litters/<str:uid>/ration", views.LitterRation, "litter-ration")
        add_view("litters/<str:uid>/dam-ration", views.DamRation, "litter-dam-ration")
        add_view("litters/<str:uid>/feed-forecast", views.FeedForecast, "litter-feed-forecast")
        add_view("pups/<str:uid>/bottle", views.PupBottle, "pup-bottle")
