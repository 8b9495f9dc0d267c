"""Pages about the feeding plan of a litter and its stages."""

import re
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from feeding.inputs import MOST_STAGES
from feeding.registrations import FEEDING_PLAN
from feeding.stage_data import default_stage_data
from feeding.web import reads
from kennel.people.choices import Role
from kennel.records import door, service
from kennel.records.refusals import Refusal
from kennel.web.base import KennelPage, uid_or_404
from kennel.web.forms import Entry, RecordForm, version_of
from kennel.web.record_pages import ChangeRecordPage, NewRecordPage
from litters.registrations import LITTER
from litters.web.reads import row

SPARE_ROWS = 2
CAUTION = (
    "Published needs differ by half; what comes back and the scale correct them. Change a food over several days,"
    " and ask the vet about a pup that does not gain."
)


def plan_entries(foods: list[reads.Row], plan: Mapping[str, Any] | None = None) -> list[Entry]:
    """The fields of a feeding plan; the stages have a page of their own."""
    now = plan or {}
    bowl_foods = reads.food_choices(foods, milk=False, kept=now.get("food"))
    milks = reads.food_choices(foods, milk=True, kept=now.get("milk"))
    return [
        Entry("litter", "Litter", choices=[], is_hidden=True),
        Entry("food", "Food", choices=bowl_foods),
        Entry("method", "How their need is reckoned"),
        Entry("bowls", "Bowls"),
        Entry("soak_minutes", "Soak for", "0: no reminder to soak.", unit="minutes"),
        Entry("expected_adult_kg", "Adult weight to expect", "Empty: that of the litter.", unit="kg"),
        Entry("missing_weight", "A pup nobody weighed", is_more=True),
        Entry("stale_after_days", "A weight is old after", unit="days", is_more=True),
        Entry("warn_within_minutes", "Warn of a second meal within", unit="minutes", is_more=True),
        Entry("milk", "Milk for bottles", choices=milks, is_more=True),
        Entry("milk_need", "Need of unweaned pups", is_more=True),
        Entry(
            "topped_up_share",
            "Part of the need by bottle",
            "For pups that also suck: 0.5 is half of it.",
            is_more=True,
        ),
        Entry(
            "bottle_every_minutes", "A bottle every", "Empty: no bottle round.", unit="minutes", is_more=True
        ),
        Entry("dam_food", "Food of the dam", choices=bowl_foods, is_more=True),
        Entry("dam_meals_per_day", "Her meals a day", is_more=True),
        Entry("note", "Note", is_more=True),
    ]


class FeedingPage(KennelPage):
    """The feeding of a litter: its plan, its stages, the last meals."""

    keep_offline = True

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """The plan, or the way to make one."""
        identifier = uid_or_404(uid)
        with door.read(self.here, self.actor, self.at):
            litter = row(LITTER, self.here.id, identifier)
            plan = reads.plan_of(self.here.id, identifier)
            foods = {food["uid"]: food for food in reads.foods(self.here.id)}
            meals = reads.meals_of(self.here.id, identifier)
        values = {
            "litter": litter,
            "plan": plan,
            "food": foods.get(plan["food"]) if plan else None,
            "meals": meals,
            "has_foods": bool(foods),
        }
        return self.page("feeding/feeding.html", values)


class _PlanForm:
    here: Any
    litter: reads.Row

    def cancel_url(self) -> str:
        """Back to the litter's feeding."""
        return reverse("web:feeding", args=[self.here.uid, self.litter["uid"]])

    def saved_url(self, uid: UUID) -> str:
        """To the litter's feeding."""
        return self.cancel_url()


class NewPlanPage(_PlanForm, NewRecordPage):
    """Making the feeding plan of a litter, with the usual stages to start from."""

    caution = CAUTION

    def form(self) -> RecordForm:
        """A plan's fields."""
        with door.read(self.here, self.actor, self.at):
            self.litter = row(LITTER, self.here.id, uid_or_404(self.kwargs["uid"]))
            self.foods = reads.foods(self.here.id)
        return RecordForm(
            "feeding-plan", plan_entries(self.foods), self.here.zone, initial={"litter": self.litter["uid"]}
        )

    def title(self) -> str:
        """Title."""
        return f"Feeding plan for {self.litter['name']}"

    def more(self) -> dict[str, Any]:
        """Without a food there is no plan: the page says so first."""
        if reads.food_choices(self.foods, milk=False):
            return {"intro": "Softened food starts on day 28; you can change the stages afterwards."}
        return {"intro": "A plan needs a food. Add it first, under Foods."}


class ChangePlanPage(_PlanForm, ChangeRecordPage):
    """Changing a feeding plan; what lies ahead follows."""

    caution = CAUTION

    def form(self) -> RecordForm:
        """The same fields, filled in, and the day it ends."""
        with door.read(self.here, self.actor, self.at):
            plan = row(FEEDING_PLAN, self.here.id, self.uid)
            self.litter = row(LITTER, self.here.id, UUID(plan["litter"]))
            foods = reads.foods(self.here.id)
        entries = [entry for entry in plan_entries(foods, plan) if entry.name != "litter"]
        return RecordForm(
            "feeding-plan", [*entries, Entry("ended_on", "Ended on", is_more=True)], self.here.zone, row=plan
        )

    def title(self) -> str:
        """Title."""
        return f"Feeding plan for {self.litter['name']}"


class StagesPage(KennelPage):
    """The stages of a feeding plan as a table: from which day, when, how soft, for how much of the need."""

    least_role = Role.CARER

    def get(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """The table, with empty rows to add stages; `?start=21` fills in the usual ones from that day."""
        self._read(uid)
        stages = self.plan["stages"]
        start = request.GET.get("start", "")
        if re.fullmatch(r"2[1-9]|3[0-4]", start):
            stages = default_stage_data(int(start))
        return self._show([_typed(stage) for stage in stages])

    def post(self, request: HttpRequest, kennel: str, uid: str) -> HttpResponse:
        """Store the rows that have a day; what is wrong is said on top, what was typed stays."""
        self._read(uid)
        rows = [
            {name: request.POST.get(f"{name}-{place}", "").strip() for name in COLUMNS}
            for place in range(MOST_STAGES)
        ]
        typed = [one for one in rows if any(one.values())]
        versions = frozenset({version_of(request.POST)})
        try:
            self._store(uid_or_404(uid), [_stage(one) for one in typed], versions)
        except Refusal as refusal:
            if refusal.slug == "version-mismatch":
                return self._show(
                    typed, ["Somebody changed this plan while you were writing. Look again."], 422
                )
            return self._show(typed, [_said(error.pointer, error.detail) for error in refusal.errors], 422)
        messages.success(request, "Saved.")
        return redirect(reverse("web:feeding", args=[self.here.uid, self.plan["litter"]]))

    def _store(self, uid: UUID, stages: list[dict[str, Any]], versions: frozenset[int]) -> None:
        with door.write(self.here, self.actor, self.at) as opened:
            change = service.Change(0, uid, versions, {"stages": stages})
            outcome = service.update(FEEDING_PLAN, [change], opened)[0]
        if outcome.refusal is not None:
            raise outcome.refusal

    def _read(self, uid: str) -> None:
        with door.read(self.here, self.actor, self.at):
            self.plan = row(FEEDING_PLAN, self.here.id, uid_or_404(uid))

    def _show(
        self, typed: list[dict[str, str]], errors: list[str] | None = None, status: int = 200
    ) -> HttpResponse:
        spare = min(SPARE_ROWS, MOST_STAGES - len(typed))
        values = {
            "plan": self.plan,
            "rows": [*typed, *(dict.fromkeys(COLUMNS, "") for _ in range(spare))],
            "errors": errors or [],
        }
        return self.page("feeding/stages.html", values, status)


COLUMNS = ("from_day", "wall_times", "food_parts", "water_parts", "share_pct", "texture", "one_soaked_meal")


def _typed(stage: Mapping[str, Any]) -> dict[str, str]:
    """A stored stage as it stands in the table."""
    soak = stage["soak"] or {"food_parts": "", "water_parts": ""}
    return {
        "from_day": str(stage["from_day"]),
        "wall_times": " ".join(stage["wall_times"]),
        "food_parts": _number_text(soak["food_parts"]),
        "water_parts": _number_text(soak["water_parts"]),
        "share_pct": _number_text(float(stage["share_from_food"]) * 100),
        "texture": stage["texture"],
        "one_soaked_meal": "yes" if stage["one_soaked_meal"] else "",
    }


def _number_text(value: Any) -> str:
    return "" if value == "" else f"{float(value):.10g}"


def _stage(typed: Mapping[str, str]) -> dict[str, Any]:
    """What was typed as the API would take it; what cannot be read goes on as it is and is refused there."""
    share = _number(typed["share_pct"])
    soak = None
    if typed["food_parts"] or typed["water_parts"]:
        soak = {"food_parts": _number(typed["food_parts"]), "water_parts": _number(typed["water_parts"])}
    day = typed["from_day"]
    return {
        "from_day": int(day) if day.isascii() and day.isdigit() and len(day) < 6 else day,
        "wall_times": [text.zfill(5) for text in re.split(r"[\s,;]+", typed["wall_times"]) if text],
        "soak": soak,
        "share_from_food": round(share / 100, 6) if isinstance(share, float) else share,
        "texture": typed["texture"],
        "one_soaked_meal": typed["one_soaked_meal"] == "yes",
    }


def _number(text: str) -> float | str:
    plain = text.replace(",", ".").rstrip("% ")
    return float(plain) if re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,6})?", plain, re.ASCII) else text


def _said(pointer: str, detail: str) -> str:
    """The place of an error in the table, in words."""
    found = re.match(r"#/stages/([0-9]+)", pointer)
    return f"Row {int(found.group(1)) + 1}: {detail}" if found else detail
