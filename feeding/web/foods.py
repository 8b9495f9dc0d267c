"""Pages about foods and what is in stock."""

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from feeding.registrations import FOOD
from feeding.web import reads
from kennel.records import door
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import Entry, RecordForm
from kennel.web.record_pages import ChangeRecordPage, NewRecordPage
from litters.web.reads import row

ENTRIES = [
    Entry("name", "Name on the bag or tin"),
    Entry("kind", "Kind"),
    Entry(
        "printed_kcal_per_kg", "Energy printed on it", "Goes before everything else.", unit="kcal/kg as fed"
    ),
    Entry("protein_pct", "Protein", "As printed, as fed. Needed when no energy is printed.", unit="%"),
    Entry("fat_pct", "Fat", unit="%"),
    Entry("fibre_pct", "Crude fibre", unit="%"),
    Entry("moisture_pct", "Moisture", unit="%"),
    Entry("ash_pct", "Crude ash", "Left empty it is assumed, and the energy marked as estimated.", unit="%"),
    Entry("milk_kcal_per_ml", "Replacer, as made up", "From its label; often 1.0 to 1.3.", unit="kcal/mL"),
    Entry(
        "density_g_per_ml",
        "Weight of a level mL",
        "Weigh one level cup to know it.",
        unit="g/mL",
        is_more=True,
    ),
    Entry("calcium_pct", "Calcium", unit="%", is_more=True),
    Entry("bag_kg", "Bag", unit="kg", is_more=True),
    Entry("in_use", "In use", is_more=True),
    Entry("note", "Note", is_more=True),
]


class FoodsPage(KennelPage):
    """Foods with their energy and what is in stock."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str) -> HttpResponse:
        """The list."""
        with door.read(self.here, self.actor, self.at):
            foods = reads.foods(self.here.id)
        return self.page("feeding/foods.html", {"foods": foods})


class _FoodForm:
    here: Any

    def cancel_url(self) -> str:
        """Back to the list."""
        return reverse("web:foods", args=[self.here.uid])

    def saved_url(self, uid: UUID) -> str:
        """To the list."""
        return self.cancel_url()


class NewFoodPage(_FoodForm, NewRecordPage):
    """Adding a food."""

    caution = "Take every figure from the label in your hand."

    def form(self) -> RecordForm:
        """A food's fields."""
        return RecordForm("food", ENTRIES, self.here.zone)

    def title(self) -> str:
        """Title."""
        return "Add a food"


class ChangeFoodPage(_FoodForm, ChangeRecordPage):
    """Changing a food; meals that were recorded keep what they were measured against."""

    caution = "Take every figure from the label in your hand."

    def form(self) -> RecordForm:
        """The same fields, filled in."""
        with door.read(self.here, self.actor, self.at):
            self.food = row(FOOD, self.here.id, self.uid)
        return RecordForm("food", ENTRIES, self.here.zone, row=self.food)

    def title(self) -> str:
        """Title."""
        return f"Change {self.food['name']}"


class StockPage(_FoodForm, NewRecordPage):
    """Writing down food that came, went, or was weighed in the store."""

    def form(self) -> RecordForm:
        """A move of stock of one food."""
        with door.read(self.here, self.actor, self.at):
            self.food = row(FOOD, self.here.id, uid_or_404(self.kwargs["uid"]))
        entries = [
            Entry("food", "Food", choices=[(self.food["uid"], self.food["name"])], is_hidden=True),
            Entry("kind", "What happened"),
            Entry("mass_g", "How much", unit="g", is_large=True),
            Entry("occurred_at", "When"),
            Entry("best_before_on", "Best before", is_more=True),
            Entry("note", "Note", is_more=True),
        ]
        initial = {"food": self.food["uid"], "occurred_at": self.at}
        return RecordForm("stock-move", entries, self.here.zone, initial=initial)

    def title(self) -> str:
        """Title."""
        return f"Stock of {self.food['name']}"
