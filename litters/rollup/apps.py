"""App configuration of the roll-up."""

from django.apps import AppConfig


class RollupConfig(AppConfig):
    name = "litters.rollup"
    label = "rollup"

    def ready(self) -> None:
        """Mark days when facts change."""
        from kennel.api.urls import add_view
        from kennel.records import types
        from litters import selectors
        from litters.rollup import climate, contributions
        from litters.rollup.api import LitterDays, LitterSummary
        from litters.rollup.services import marking

        types.react(["pup"], marking.on_pups)
        types.react(["departure", "return"], marking.on_presence)
        types.react(["duty"], marking.on_duties)
        types.react(["box-climate"], climate.on_climates)
        types.react(["temperature", "milestone", "whelping-entry"], marking.on_facts)
        contributions.add(climate.CLIMATE_TOTALS)
        contributions.add_authors("litters_departure", by="pup")
        contributions.add_authors("litters_return", by="pup")
        contributions.add_authors("litters_boxclimate", by="litter")
        contributions.add_authors("litters_temperature", by="pup")
        contributions.add_authors("litters_milestone", by="pup")
        contributions.add_authors("litters_whelpingentry", by="litter")
        contributions.add_leaving(selectors.STAYS_AWAY)
        add_view("litters/<str:uid>/days", LitterDays, "litter-days")
        add_view("litters/<str:uid>/summary", LitterSummary, "litter-summary")
