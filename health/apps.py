"""App configuration of the health app: registers what it adds to the platform."""

from django.apps import AppConfig


class HealthConfig(AppConfig):
    name = "health"

    def ready(self) -> None:
        """Register record types, duty kinds, computed reads, pages, and what follows from facts."""
        from health import (
            board_entries,
            day_totals,
            duty_kinds,
            given_today,
            leaving_facts,
            registrations,
            timeline_sources,
            weigh_ins,
        )
        from health import demo as health_demo
        from health.api import views
        from health.services import following, plans, watches
        from health.web.registration import register as register_pages
        from kennel import demo
        from kennel.api.urls import add_view
        from kennel.duties import board
        from kennel.records import types
        from litters import timeline
        from litters.rollup import contributions
        from litters.services import labour, leavings

        demo.add(30, health_demo.fill)
        duty_kinds.register()
        weigh_ins.register()
        board.register(board_entries.watched)
        types.react([registrations.TREATMENT_PLAN.name], plans.plans_follow)
        types.react(["litter"], plans.litters_follow)
        types.react(["litter"], weigh_ins.litters_follow)
        types.react([registrations.MEDICINE.name], plans.medicines_follow)
        types.react([registrations.TREATMENT.name], following.treatments_follow)
        types.react(["weighing"], following.weighings_follow)
        types.react(["weighing", "temperature"], watches.readings_follow)
        types.react([registrations.WATCH.name], watches.watches_follow)
        types.react(["departure", "return", "pup"], following.presence_follows)
        types.react(["departure", "pup"], watches.pups_follow)
        types.react([registrations.TREATMENT.name, registrations.HEALTH_EVENT.name], day_totals.facts_mark)
        types.react([registrations.WATCH.name], day_totals.watches_mark)
        contributions.add(day_totals.HEALTH_TOTALS)
        contributions.add_authors("health_treatment", by="pup")
        contributions.add_authors("health_healthevent", by="pup")
        contributions.add_authors("health_healthevent", by="litter")
        leavings.add_health_facts(leaving_facts.health_facts)
        labour.add_medicines_today(given_today.given_words)
        for source in timeline_sources.SOURCES:
            timeline.add_source(source)
        add_view("pups/<str:uid>/dose", views.PupDose, "pup-dose")
        add_view("dogs/<str:uid>/dose", views.DogDose, "dog-dose")
        add_view("litters/<str:uid>/doses", views.LitterDoses, "litter-doses")
        add_view("treatment-plans/<str:uid>/dates", views.PlanDates, "treatment-plan-dates")
        add_view("treatments/for-many", views.TreatmentsForMany, "treatments-for-many")
        add_view("medicine-labels", views.MedicineLabels, "medicine-labels")
        add_view("treatment-schemes", views.TreatmentSchemes, "treatment-schemes")
        register_pages()
