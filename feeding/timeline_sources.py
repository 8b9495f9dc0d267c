"""Meals and bottles for a litter's timeline."""

from litters.timeline import Source

SOURCES = [
    Source(
        "meal",
        "SELECT 'meal', f.uid, f.occurred_at, NULL::uuid, jsonb_build_object('food', o.name, 'dry_g', trim_scale(f.dry_g),"
        " 'water_ml', trim_scale(f.water_ml), 'left_wet_g', trim_scale(f.left_wet_g), 'bowls', f.bowls,"
        " 'absent', f.absent), f.recorded_by_id, f.version, f.warnings, f.note FROM feeding_meal f"
        " LEFT JOIN feeding_food o ON o.kennel_id = f.kennel_id AND o.id = f.food_id"
        " WHERE f.kennel_id = %(kennel)s AND f.litter_id = %(litter)s AND f.deleted_at IS NULL",
    ),
    Source(
        "bottle-feed",
        "SELECT 'bottle-feed', f.uid, f.occurred_at, p.uid, jsonb_build_object('taken_ml', trim_scale(f.taken_ml),"
        " 'offered_ml', trim_scale(f.offered_ml), 'by_tube', f.by_tube), f.recorded_by_id, f.version, f.warnings, f.note"
        " FROM litters_pup p JOIN feeding_bottlefeed f ON f.kennel_id = p.kennel_id AND f.pup_id = p.id"
        " AND f.deleted_at IS NULL WHERE p.kennel_id = %(kennel)s AND p.litter_id = %(litter)s AND p.deleted_at IS NULL",
    ),
]
