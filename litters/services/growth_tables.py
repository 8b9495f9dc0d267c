"""Growth tables that a vet supplied, and which of them speaks of a pup."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db import connection

from kennel.records import store
from litters.choices import Sex
from litters.domain.centiles import LmsTable

MOST_TABLES = 60


@dataclass(frozen=True, slots=True)
class GrowthTable:
    """A stored table: for whom it is (sex empty: both; a range of adult weight in kg, its upper end left out), and
    who supplied it when, from where."""

    uid: UUID
    sex: str
    adult_from_kg: float | None
    adult_below_kg: float | None
    supplied_by: str
    supplied_on: date
    source: str
    values: LmsTable

    @property
    def name(self) -> str:
        """What the kennel calls it."""
        return self.values.name

    def misfit(self, sex: str, adult_kg: float | None) -> str:
        """Why it does not speak of a dog of that sex and expected adult weight; empty when it does."""
        if self.sex and self.sex != sex:
            return "the pup's sex is not on record" if sex == Sex.UNKNOWN else "it is for the other sex"
        if self.adult_from_kg is None and self.adult_below_kg is None:
            return ""
        if adult_kg is None:
            return "the expected adult weight is not known"
        low, high = self.adult_from_kg or 0.0, self.adult_below_kg
        if adult_kg < low or (high is not None and adult_kg >= high):
            return f"it is for other adult weights than {adult_kg:g} kg"
        return ""


def growth_tables(kennel_id: int) -> list[GrowthTable]:
    """The tables of a kennel, the one supplied last first.  One query; inside an open door."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT uid, name, sex, adult_from_kg::float8, adult_below_kg::float8, rows::text, supplied_by, supplied_on, source"
            " FROM litters_growthtable WHERE kennel_id = %s AND deleted_at IS NULL"
            " ORDER BY supplied_on DESC, id DESC LIMIT %s",
            [kennel_id, MOST_TABLES],
        )
        return [
            GrowthTable(uid, sex, low, high, by, on, source, LmsTable.of(name, store.load(rows)))
            for uid, name, sex, low, high, rows, by, on, source in cursor.fetchall()
        ]


def table_for(
    tables: Sequence[GrowthTable], sex: str, adult_kg: float | None, age_days: float
) -> LmsTable | None:
    """The values that speak of a pup of that age: of several fitting tables the one supplied last."""
    fitting = (table for table in tables if not table.misfit(sex, adult_kg))
    return next((table.values for table in fitting if table.values.from_day <= age_days), None)
