"""The demo's dogs, litters, pups and weights.  Invented; the shapes of the curves are plausible, not published."""

from datetime import date, datetime, time, timedelta
from typing import Any

from kennel.clock.wall_clock import instant_of, local_day
from kennel.demo import Scene
from litters.domain.growth_models import gompertz_kg

YOUNG = ("moss", "rust", "slate", "wheat", "plum", "chalk", "fern")
OLDER = ("amber", "birch", "clay", "dove", "ember", "flint", "gorse", "heath")


def fill(scene: Scene) -> None:
    """Three litters: one expected, one of four days with a pup that does not gain, one at four weeks."""
    _dogs(scene)
    scene.write()
    today = local_day(scene.at, scene.here.zone)
    _expected(scene, today)
    _young(scene, today)
    _older(scene, today)
    _growth_table(scene, today)


def _growth_table(scene: Scene, today: date) -> None:
    """Invented values, to show what a vet's table looks like: no pup of the demo is old enough for it yet."""
    rows = [
        {
            "age_days": week * 7,
            "power": 0.4,
            "median_kg": round(gompertz_kg(week * 7, 19, 50, 95), 2),
            "spread": 0.11,
        }
        for week in range(12, 105, 4)
    ]
    scene.add(
        "growth-table",
        "growth-table",
        name="Water spaniels (invented)",
        adult_from_kg=15,
        adult_below_kg=30,
        rows=rows,
        supplied_by="Dr Ames (invented)",
        supplied_on=today - timedelta(days=40),
        source="invented values, for trying out",
    )


def _dogs(scene: Scene) -> None:
    # Behind them: two bitches that live elsewhere, so that a planned mating has an ancestor on both sides.
    _dog(scene, "Yarrow", 11, lives_here=False)
    scene.write()
    _dog(scene, "Sedge", 8, lives_here=False, dam=scene.uid("Yarrow"))
    scene.write()
    _dog(scene, "Bramble", 4, colour="liver", dam=scene.uid("Sedge"))
    _dog(scene, "Sorrel", 3, colour="black")
    _dog(scene, "Teasel", 5, colour="liver and white")
    _dog(scene, "Marram", 6, sex="male", colour="black", dam=scene.uid("Yarrow"))


def _dog(scene: Scene, name: str, years: int, **known: Any) -> None:
    born_on = _years_before(local_day(scene.at, scene.here.zone), years)
    own: dict[str, Any] = {"sex": "female", "breed": "water spaniel", "adult_weight_kg": 19} | known
    scene.add("dog", name, name=name, born_on=born_on, **own)


def _years_before(day: date, years: int) -> date:
    return day - timedelta(days=365 * years + 40)


def _expected(scene: Scene, today: date) -> None:
    scene.add(
        "litter",
        "expected",
        name="Teasel's, expected",
        dam=scene.uid("Teasel"),
        sire=scene.uid("Marram"),
        mated_on=today - timedelta(days=58),
        expected_pups=6,
        expected_adult_kg=19,
    )


def _morning(scene: Scene, day: date, hour: int = 7, minute: int = 0) -> datetime:
    return instant_of(day, time(hour, minute), scene.here.zone)


def _litter(
    scene: Scene,
    key: str,
    name: str,
    dam: str,
    bands: tuple[str, ...],
    born: datetime,
    weaned_on: date | None = None,
) -> None:
    scene.add(
        "litter",
        key,
        name=name,
        dam=scene.uid(dam),
        sire=scene.uid("Marram"),
        mated_on=local_day(born, scene.here.zone) - timedelta(days=63),
        whelped_at=born,
        weaned_on=weaned_on,
        expected_adult_kg=19,
    )
    scene.write()
    for place, band in enumerate(bands):
        scene.add(
            "pup",
            f"{key}:{band}",
            litter=scene.uid(key),
            band=band,
            sex="female" if place % 2 else "male",
            born_at=born + timedelta(minutes=40 * place),
            birth_order=place + 1,
        )
    scene.write()


def _weigh(scene: Scene, key: str, at: datetime, grams: float, by: str, *, birth: bool = False) -> None:
    if at <= scene.at:
        scene.add(
            "weighing",
            f"weight:{key}:{at.isoformat()}",
            by,
            pup=scene.uid(key),
            occurred_at=at,
            weight_g=round(grams),
            is_birth_weight=birth,
            source="scale",
        )


def _young(scene: Scene, today: date) -> None:
    born = _morning(scene, today - timedelta(days=4), 2, 10)
    _litter(scene, "young", "Sorrel's", "Sorrel", YOUNG, born)
    for place, band in enumerate(YOUNG):
        birth = 318 + 9 * (place * 3 % 7)
        slow = band == "wheat"
        _weigh(scene, f"young:{band}", born + timedelta(minutes=40 * place + 12), birth, "Maud", birth=True)
        for day in range(1, 5):
            growth = (0.985, 0.97, 0.968, 0.965)[day - 1] if slow else (0.99, 1.06, 1.14, 1.23)[day - 1]
            at = _morning(scene, today - timedelta(days=4 - day), 7, 5 + place)
            _weigh(scene, f"young:{band}", at, birth * growth + place % 3, "Oona" if day % 2 else "Idris")


def _older(scene: Scene, today: date) -> None:
    born = _morning(scene, today - timedelta(days=28), 4, 30)
    _litter(scene, "older", "Bramble's", "Bramble", OLDER, born, weaned_on=today + timedelta(days=21))
    for place, band in enumerate(OLDER):
        birth = 330 + 8 * (place * 5 % 8)
        _weigh(scene, f"older:{band}", born + timedelta(minutes=40 * place + 15), birth, "Maud", birth=True)
        for day in range(1, 29):
            share = 1 + 0.075 * day if day < 14 else 2.05 + 0.17 * (day - 14)
            at = _morning(scene, today - timedelta(days=28 - day), 7, 10 + place)
            _weigh(
                scene, f"older:{band}", at, birth * share + 3 * (place % 4), "Idris" if day % 3 else "Maud"
            )
