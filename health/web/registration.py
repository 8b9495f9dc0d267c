"""The pages of this app and their places in the menu."""

from health.web import about, events, fact_links, medicines, plans, treatments, worming_day
from kennel.people.choices import Role
from kennel.web import menu, shell
from kennel.web.urls import add_page
from litters.web import links

KENNEL = "kennels/<str:kennel>"


def register() -> None:
    """Add them all; called once, from `apps.py`."""
    for route, view, name in (
        ("medicines", medicines.MedicinesPage, "medicines"),
        ("medicines/new", medicines.NewMedicinePage, "medicine-new"),
        ("medicines/<str:uid>/change", medicines.ChangeMedicinePage, "medicine-change"),
        ("treatments", treatments.TreatmentsPage, "treatments"),
        ("litters/<str:uid>/worming-day", worming_day.WormingDayPage, "worming-day"),
        ("litters/<str:uid>/worming-day/<str:medicine>", worming_day.WormingDosesPage, "worming-doses"),
        ("treatment-plans", plans.PlansPage, "treatment-plans"),
        ("treatment-plans/<str:uid>", plans.PlanPage, "treatment-plan"),
        ("treatment-plans/<str:uid>/change", plans.ChangePlanPage, "treatment-plan-change"),
        ("health", events.HealthPage, "health"),
        ("watches", events.WatchesPage, "watches"),
    ):
        add_page(f"{KENNEL}/{route}", view, name)
    for kind in ("pup", "dog"):
        for below, form, name in (
            ("treat", treatments.NewTreatmentPage, "treat"),
            ("health-event", events.NewHealthEventPage, "health-event-new"),
            ("watch", events.NewWatchPage, "watch-new"),
        ):
            add_page(f"{KENNEL}/{kind}s/<str:uid>/{below}", _about(form, kind), f"{kind}-{name}")
    for kind, text in (("litter", "Health"), ("dog", "Treatments and health"), ("pup", "Health")):
        add_page(f"{KENNEL}/{kind}s/<str:uid>/health", _about(about.AboutPage, kind), f"{kind}-health")
        links.add(kind, text, f"web:{kind}-health", order=20, keep_offline=True)
    for kind in ("litter", "dog"):
        add_page(
            f"{KENNEL}/{kind}s/<str:uid>/treatment-plan",
            _about(plans.NewPlanPage, kind),
            f"{kind}-treatment-plan-new",
        )
    fact_links.register()
    shell.add_files("health/worming_day.js")
    menu.add("Treat", "web:treatments", Role.CARER, order=15)
    menu.add("Keep an eye on", "web:watches", order=18)
    menu.add("Health", "web:health", order=40)
    menu.add("Medicines", "web:medicines", order=42)
    menu.add("Treatment plans", "web:treatment-plans", order=44)


def _about(page: type, kind: str) -> type:
    """The page with the kind of animal its path is about."""

    def place(self: object, request: object, **kwargs: object) -> None:
        self.kwargs["kind"] = kind  # type: ignore[attr-defined]
        page.place(self, request, **kwargs)  # type: ignore[attr-defined]

    return type(f"{kind.title()}{page.__name__}", (page,), {"place": place, "__doc__": page.__doc__})
