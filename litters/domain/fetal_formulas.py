"""Every published fetal ultrasound formula, as plain functions of one measurement.

Formulas answer days before parturition (or days since the LH surge).  An answer below 0 or above 45 days left
means a typing error, most often millimetres for centimetres [common practice, no source], and raises
ValueError. Dam weights are those before pregnancy.
"""

from __future__ import annotations

from math import isfinite

MOST_DAYS_LEFT = 45.0
LENGTH_FROM_LH_DAYS = 65.0
SMALL_DAM_KG = 10.0
MEDIUM_DAM_KG = 25.0
HEAVIEST_DAM_KG = 120.0


def days_before_parturition_icc_small(icc_mm: float, *, dam_mass_kg: float | None = None) -> float:
    """Days left from the inner chorionic cavity, dams up to 10 kg: (68.68 - ICC) / 1.53, ICC in mm.

    Source: Luvoni & Grioni 2000 [from memory, unverified; size bands confirmed by Socha & Janowski 2014].
    Raises ValueError for a dam of another size or an answer outside 0..45 days.
    """
    _require_size(dam_mass_kg, 0, SMALL_DAM_KG)
    return _days_left((68.68 - _positive(icc_mm, "ICC")) / 1.53)


def days_before_parturition_icc_medium(icc_mm: float, *, dam_mass_kg: float | None = None) -> float:
    """Days left from the inner chorionic cavity, dams of 10 to 25 kg: (82.13 - ICC) / 1.8, ICC in mm.

    Source: Luvoni & Grioni 2000 [from memory, unverified; size bands confirmed by Socha & Janowski 2014].
    Raises ValueError for a dam of another size or an answer outside 0..45 days.
    """
    _require_size(dam_mass_kg, SMALL_DAM_KG, MEDIUM_DAM_KG)
    return _days_left((82.13 - _positive(icc_mm, "ICC")) / 1.8)


def days_before_parturition_bp_small(bp_mm: float, *, dam_mass_kg: float | None = None) -> float:
    """Days left from the biparietal diameter, dams up to 10 kg: (25.11 - BP) / 0.61, BP in mm.

    Source: Luvoni & Grioni 2000 [from memory, unverified; size bands confirmed by Socha & Janowski 2014].
    Raises ValueError for a dam of another size or an answer outside 0..45 days.
    """
    _require_size(dam_mass_kg, 0, SMALL_DAM_KG)
    return _days_left((25.11 - _positive(bp_mm, "BP")) / 0.61)


def days_before_parturition_bp_medium(bp_mm: float, *, dam_mass_kg: float | None = None) -> float:
    """Days left from the biparietal diameter, dams of 10 to 25 kg: (29.18 - BP) / 0.7, BP in mm.

    Source: Luvoni & Grioni 2000 [from memory, unverified; size bands confirmed by Socha & Janowski 2014].
    Raises ValueError for a dam of another size or an answer outside 0..45 days.
    """
    _require_size(dam_mass_kg, SMALL_DAM_KG, MEDIUM_DAM_KG)
    return _days_left((29.18 - _positive(bp_mm, "BP")) / 0.7)


def days_before_parturition_icc_german_shepherd(icc_cm: float) -> float:
    """Days left from the inner chorionic cavity of a German shepherd: 44.76 - 4.34 ICC, ICC in cm.

    Source: Cecchetto et al. 2017 [verified in text]; best while more than 35 days remain.
    Raises ValueError for an answer outside 0..45 days.
    """
    return _days_left(44.76 - 4.34 * _positive(icc_cm, "ICC"))


def days_before_parturition_bpd_german_shepherd(bpd_cm: float) -> float:
    """Days left from the biparietal diameter of a German shepherd: 38.65 - 12.86 BPD, BPD in cm.

    Source: Cecchetto et al. 2017 [verified in text]; best while more than 15 days remain.
    Raises ValueError for an answer outside 0..45 days.
    """
    return _days_left(38.65 - 12.86 * _positive(bpd_cm, "BPD"))


def days_before_parturition_bpd_chihuahua(bpd_cm: float) -> float:
    """Days left from the biparietal diameter of a Chihuahua: 38.72 - 15.46 BPD, BPD in cm.

    Source: de Albuquerque Vieira et al. 2020 [coefficients verified in text; the centimetre is assumed].
    Raises ValueError for an answer outside 0..45 days.
    """
    return _days_left(38.72 - 15.46 * _positive(bpd_cm, "BPD"))


def gestational_age_from_sac_days(sac_cm: float, *, dam_mass_kg: float | None = None) -> float:
    """Days since the LH surge from the gestational sac: 6 x diameter + 20, in cm.

    Corrected for the dam's size.  For ages below day 40.  Source: textbook formula, Nyland & Mattoon
    [secondary quotation]. Raises ValueError when the days left (65 - age) would lie outside 0..45.
    """
    return _age(6 * _positive(sac_cm, "sac diameter") + 20, dam_mass_kg)


def gestational_age_from_head_days(head_cm: float, *, dam_mass_kg: float | None = None) -> float:
    """Days since the LH surge from the head: 15 x diameter + 20, in cm.

    Corrected for the dam's size.  For ages above day 40.  Source: textbook formula, Nyland & Mattoon
    [secondary quotation]. Raises ValueError when the days left (65 - age) would lie outside 0..45.
    """
    return _age(15 * _positive(head_cm, "head diameter") + 20, dam_mass_kg)


def days_left_from_gestational_age(age_since_lh_days: float) -> float:
    """Days to parturition from days since the LH surge: 65 - age.

    Source: imaging-education page [secondary quotation].  Raises ValueError for an answer outside 0..45 days.
    """
    if not isfinite(age_since_lh_days):
        raise ValueError("gestational age must be a number of days")
    return _days_left(LENGTH_FROM_LH_DAYS - age_since_lh_days)


def size_correction_days(dam_mass_kg: float) -> int:
    """Days to add to a gestational age for the dam's size: +1 under 9 kg, -2 above 40 kg, else 0.

    Weight before pregnancy, 0 < dam_mass_kg <= 120; ValueError outside.  Source: Kutzler et al. 2003 as
    quoted [secondary quotation].
    """
    mass_kg = checked_dam_mass_kg(dam_mass_kg)
    if mass_kg < 9:
        return 1
    return -2 if mass_kg > 40 else 0


def checked_dam_mass_kg(dam_mass_kg: float) -> float:
    """A dam's mass once it is known to be possible.  Raises ValueError outside 0 < mass <= 120 kg."""
    if not isfinite(dam_mass_kg) or not 0 < dam_mass_kg <= HEAVIEST_DAM_KG:
        raise ValueError(f"a dam's weight must lie above 0 and at most {HEAVIEST_DAM_KG:g} kg")
    return dam_mass_kg


def centimetres_from_millimetres(length_mm: float) -> float:
    """A length in cm from mm.  Raises ValueError for a length that is not a number."""
    if not isfinite(length_mm):
        raise ValueError("a measurement must be a number")
    return length_mm / 10


def _positive(value: float, name: str) -> float:
    if not isfinite(value) or value <= 0:
        raise ValueError(f"{name} must be a length above 0")
    return value


def _days_left(days: float) -> float:
    # A last-digit rounding at the end of the range is no typing error.
    if not isfinite(days) or not -1e-9 <= days <= MOST_DAYS_LEFT + 1e-9:
        raise ValueError(
            f"{days:.1f} days left lies outside 0 to {MOST_DAYS_LEFT:g}: "
            "look for a typing error, most often mm for cm"
        )
    return max(days, 0.0)


def _age(age_days: float, dam_mass_kg: float | None) -> float:
    corrected = age_days + (0 if dam_mass_kg is None else size_correction_days(dam_mass_kg))
    _days_left(LENGTH_FROM_LH_DAYS - corrected)
    return corrected


def _require_size(dam_mass_kg: float | None, above_kg: float, up_to_kg: float) -> None:
    if dam_mass_kg is None:
        return
    mass_kg = checked_dam_mass_kg(dam_mass_kg)
    # The two published bands touch at 10 kg; a dam of exactly 10 kg may use either.
    if not above_kg <= mass_kg <= up_to_kg:
        raise ValueError(f"a dam of {mass_kg:g} kg is outside the range of the formula")
