"""Rules of blood tests, matings and scans: nonsense is refused, everything else is kept with its advice."""

from collections.abc import Sequence
from decimal import Decimal

from django.db import connection

from kennel.clock.wall_clock import local_day
from kennel.records import store
from kennel.records.door import Door
from kennel.records.refusals import invalid
from kennel.records.service import Draft
from litters.domain.planned_mating import InbreedingLevel
from litters.domain.progesterone import HIGHEST_NG_PER_ML, SERIES_SPAN_DAYS
from litters.services.chips import clear
from litters.services.figures import agreed_figures, inbreeding_lines
from litters.services.pedigrees import forecast_of, load_pedigree
from litters.services.place_rules import findings_before_mating

_OTHER_UNITS = """
    SELECT a.place, string_agg(DISTINCT o.unit, ', ') FILTER (WHERE o.unit <> a.unit),
           string_agg(DISTINCT o.analyser, ', ') FILTER (WHERE lower(o.analyser) <> lower(a.analyser))
    FROM json_to_recordset(%s) AS a (place int, uid uuid, dam_id bigint, unit text, analyser text, occurred_at timestamptz)
    JOIN litters_progesteronetest o ON o.kennel_id = %s AND o.dam_id = a.dam_id AND o.deleted_at IS NULL
        AND o.uid <> a.uid AND o.occurred_at BETWEEN a.occurred_at - make_interval(days => %s)
        AND a.occurred_at + make_interval(days => %s)
    GROUP BY a.place
"""
_NOT_A_BITCH = """
    SELECT a.place, dam.sex = 'male', sire.sex = 'female'
    FROM json_to_recordset(%s) AS a (place int, dam_id bigint, sire_id bigint)
    LEFT JOIN litters_dog dam ON dam.kennel_id = %s AND dam.id = a.dam_id
    LEFT JOIN litters_dog sire ON sire.kennel_id = %s AND sire.id = a.sire_id
    WHERE dam.sex = 'male' OR sire.sex = 'female'
"""


def progesterone_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Refuse values no dog can have; warn when a series mixes units or analysers, which cannot be compared."""
    for draft in drafts:
        clear(draft, ("mixed_units", "mixed_analysers"))
        if draft.input.unit == "ng/mL" and draft.input.value > Decimal(HIGHEST_NG_PER_ML):
            draft.refuse(
                invalid("value", "range", f"No dog has more than {HIGHEST_NG_PER_ML:g} ng/mL: is it nmol/L?")
            )
    _warn_sexes(drafts, door)
    asked = [
        {
            "place": place,
            "uid": str(draft.uid),
            "dam_id": draft.columns.get("dam_id"),
            "unit": draft.columns["unit"],
            "analyser": draft.columns["analyser"],
            "occurred_at": draft.input.occurred_at,
        }
        for place, draft in enumerate(drafts)
    ]
    with connection.cursor() as cursor:
        cursor.execute(_OTHER_UNITS, [store.dump(asked), door.kennel.id, SERIES_SPAN_DAYS, SERIES_SPAN_DAYS])
        for place, units, analysers in cursor.fetchall():
            if units:
                drafts[place].warn(
                    "mixed_units", f"Other samples of this dam are in {units}: only one unit makes a trend."
                )
            if analysers:
                drafts[place].warn(
                    "mixed_analysers",
                    f"Other samples were read by {analysers}: analysers differ, a trend needs one.",
                )


def scans_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Only the advice about the animal; what a scan says is judged with the due window."""
    _warn_sexes(drafts, door)


def matings_prepare(drafts: Sequence[Draft], door: Door) -> None:
    """Keep beside a mating what was to be said before it: close relatives, rules of the place not kept."""
    _warn_sexes(drafts, door)
    for draft in drafts:
        clear(draft, ("close_relatives", "pedigree", "rules_of_the_place"))
    wanted = {
        id_ for d in drafts for id_ in (d.columns.get("dam_id"), d.columns.get("sire_id")) if id_ is not None
    }
    pedigree = load_pedigree(sorted(wanted), door.kennel.id)
    lines = inbreeding_lines(agreed_figures(door.kennel.id))
    findings = findings_before_mating(
        [(d.columns.get("dam_id"), local_day(d.input.occurred_at, door.kennel.zone)) for d in drafts],
        door.kennel,
    )
    for draft, found in zip(drafts, findings, strict=True):
        dam, sire = draft.columns.get("dam_id"), draft.columns.get("sire_id")
        if dam is not None and sire is not None and dam != sire:
            forecast = forecast_of(pedigree, sire, dam, lines=lines)
            if isinstance(forecast, str):
                draft.warn("pedigree", forecast)
            elif forecast.level is not InbreedingLevel.NONE:
                draft.warn("close_relatives", forecast.cautions[0])
        broken = [one for one in found if not one.kept]
        if broken:
            draft.warn(
                "rules_of_the_place",
                " ".join(f"{one.rule.text} {one.text} ({one.rule.label})" for one in broken),
            )


def _warn_sexes(drafts: Sequence[Draft], door: Door) -> None:
    asked = [
        {"place": place, "dam_id": d.columns.get("dam_id"), "sire_id": d.columns.get("sire_id")}
        for place, d in enumerate(drafts)
    ]
    with connection.cursor() as cursor:
        cursor.execute(_NOT_A_BITCH, [store.dump(asked), door.kennel.id, door.kennel.id])
        for place, dam_is_male, sire_is_bitch in cursor.fetchall():
            if dam_is_male:
                drafts[place].warn("dam_not_female", "By the records this dam is a male.")
            if sire_is_bitch:
                drafts[place].warn("sire_not_male", "By the records this sire is a bitch.")
