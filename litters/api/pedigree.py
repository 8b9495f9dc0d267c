"""Inbreeding of a dog, and of the pups a mating would give, before it is written down."""

from dataclasses import asdict
from datetime import date
from typing import Annotated, Any

from django.db import connection
from django.http import HttpResponse
from pydantic import BaseModel, Field

from kennel.api.base import KennelView
from kennel.api.preconditions import parse_uid
from kennel.api.rendering import dumps, json_response
from kennel.clock.wall_clock import local_day
from kennel.records import door
from kennel.records.fields import Day, Uid
from kennel.records.refusals import Refusal
from kennel.records.store import array
from litters.api.answers import OBJECTS, TEXTS, answer
from litters.domain.planned_mating import SOURCE, MatingForecast, inbreeding_level
from litters.services.figures import agreed_figures, inbreeding_lines
from litters.services.pedigrees import KnownPedigree, forecast_of, load_pedigree
from litters.services.place_rules import findings_before_mating, rules_of

METHOD = "F = half the additive relationship of the parents (A = L D L')"
UNKNOWN_PARENTS = "Its parents are not both known, so nothing can be said: F counts as 0."
MOST_SHOWN = 200


Generations = Annotated[int, Field(ge=1, le=100)]


class GenerationsQuery(BaseModel):
    """How far back to look; without it everything known counts."""

    generations: Generations | None = None


class DogPedigree(KennelView):
    """A dog's inbreeding, how much of its ancestry is known, and the ancestors themselves."""

    summary_of = {"get": "Pedigree and inbreeding of a dog"}
    query_input = GenerationsQuery
    slugs = ("validation",)
    answer_schema = answer(
        ("inbreeding", "ancestors", "cautions", "method"),
        inbreeding={"type": ["number", "null"]},
        ancestors=OBJECTS,
        cautions=TEXTS,
    )

    def get(self, request: Any, kennel: str, uid: str) -> HttpResponse:
        """F with the generations known, the common ancestors it comes from, and up to 200 ancestors."""
        wanted = parse_uid(uid)
        generations = self.query(GenerationsQuery).generations
        with door.read(self.here, self.actor, self.at):
            ids = _dog_ids([wanted], self.here.id)
            if wanted not in ids:
                raise Refusal("not-found")
            dog_id = ids[wanted][0]
            known = load_pedigree([dog_id], self.here.id)
            lines = inbreeding_lines(agreed_figures(self.here.id))
        return json_response(dumps(_of_dog(known, dog_id, lines, generations)))


class PlannedMatingQuery(BaseModel):
    """Sire and dam (uids), the day thought of, and how far back to look."""

    sire: Uid
    dam: Uid
    mated_on: Day | None = None
    generations: Generations | None = None


class PlannedMating(KennelView):
    """What a mating would mean before it is saved: inbreeding of the pups, and the rules of the place."""

    summary_of = {"get": "Forecast of a mating thought of"}
    query_input = PlannedMatingQuery
    slugs = ("validation",)
    answer_schema = answer(
        ("inbreeding", "level", "cautions", "rules", "method", "source"),
        inbreeding={"type": ["number", "null"]},
        cautions=TEXTS,
        rules=OBJECTS,
    )

    def get(self, request: Any, kennel: str) -> HttpResponse:
        """F of the pups, common ancestors, generations known, and what each rule says; it asks, never forbids."""
        asked = self.query(PlannedMatingQuery)
        with door.read(self.here, self.actor, self.at):
            ids = _dog_ids([asked.sire, asked.dam], self.here.id)
            if asked.sire not in ids or asked.dam not in ids:
                raise Refusal("not-found")
            (sire_id, sire_sex), (dam_id, dam_sex) = ids[asked.sire], ids[asked.dam]
            known = load_pedigree([sire_id, dam_id], self.here.id)
            lines = inbreeding_lines(agreed_figures(self.here.id))
            mated_on: date = asked.mated_on or local_day(self.at, self.here.zone)
            found = findings_before_mating([(dam_id, mated_on)], self.here)[0]
            caution = rules_of(self.here).caution
        forecast = forecast_of(known, sire_id, dam_id, lines=lines, generations=asked.generations)
        told = _forecast(forecast, known)
        odd = [
            text
            for is_odd, text in (
                (sire_sex == "female", "By the records the sire is a bitch."),
                (dam_sex == "male", "By the records the dam is a male."),
            )
            if is_odd
        ]
        told["cautions"] = [*odd, *told["cautions"]]
        told |= {
            "sire": asked.sire,
            "dam": asked.dam,
            "mated_on": mated_on,
            "lines": {"amber_from": lines[0], "red_from": lines[1]},
            "rules": [
                {
                    "rule": one.rule.key,
                    "kept": one.kept,
                    "text": one.text,
                    "says": one.rule.text,
                    "kept_from_on": one.kept_from_on,
                    "label": one.rule.label,
                }
                for one in found
            ],
            "caution": caution,
        }
        return json_response(dumps(told))


def _dog_ids(uids: list[Any], kennel_id: int) -> dict[Any, tuple[int, str]]:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT uid, id, sex FROM litters_dog WHERE kennel_id = %s AND uid = ANY(%s::uuid[])"
            " AND deleted_at IS NULL",
            [kennel_id, array(uids)],
        )
        return {row[0]: (row[1], row[2]) for row in cursor.fetchall()}


def _forecast(forecast: MatingForecast | str, known: KnownPedigree) -> dict[str, Any]:
    if isinstance(forecast, str):
        return {
            "inbreeding": None,
            "level": None,
            "cautions": [forecast],
            "method": METHOD,
            "source": SOURCE,
            "inputs": [],
        }
    told = asdict(forecast)
    for ancestor in told["common_ancestors"]:
        dog = known.dogs[int(ancestor.pop("animal"))]
        ancestor |= {"dog": dog.uid, "name": dog.name}
    told["cautions"] = list(told["cautions"])
    told["inputs"] = [{"name": "dogs in the pedigree", "value": len(known.dogs), "unit": ""}]
    return told


def _of_dog(
    known: KnownPedigree, dog_id: int, lines: tuple[float, float], generations: int | None
) -> dict[str, Any]:
    """F of a dog is that of the mating it came from; with a parent unknown it counts as 0, said aloud."""
    sire, dam = _parents(known, dog_id)
    if known.pedigree is None:
        told = _forecast(known.problem, known)
    elif sire is None or dam is None:
        told = _forecast(UNKNOWN_PARENTS, known) | {"inbreeding": 0.0, "level": inbreeding_level(0.0, *lines)}
    else:
        told = _forecast(forecast_of(known, sire, dam, lines=lines, generations=generations), known)
    others = [dog for dog in known.dogs.values() if dog.id != dog_id]
    return told | {
        "dog": known.dogs[dog_id].uid,
        "name": known.dogs[dog_id].name,
        "known_ancestors": len(others),
        "ancestors": [
            {
                "dog": dog.uid,
                "name": dog.name,
                "born_on": dog.born_on,
                "sire": _uid(known, _parents(known, dog.id)[0]),
                "dam": _uid(known, _parents(known, dog.id)[1]),
            }
            for dog in others[:MOST_SHOWN]
        ],
        "sire": _uid(known, sire),
        "dam": _uid(known, dam),
        "caution": told["cautions"][0] if told["cautions"] else "",
    }


def _parents(known: KnownPedigree, dog_id: int) -> tuple[int | None, int | None]:
    if known.pedigree is None:
        return None, None
    position = known.pedigree.position(str(dog_id))
    sire, dam = known.pedigree.sires[position], known.pedigree.dams[position]
    names = known.pedigree.animals
    return (int(names[sire]) if sire >= 0 else None), (int(names[dam]) if dam >= 0 else None)


def _uid(known: KnownPedigree, dog_id: int | None) -> Any:
    return None if dog_id is None else known.dogs[dog_id].uid
