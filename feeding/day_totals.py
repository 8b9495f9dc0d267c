"""What a litter was fed in a day or an interval: an aggregate of the roll-up, from meals, bottles and duties.

Only what was stored counts: energy by the plan kept with each meal, so computing an old day again gives the
old answer.  A meal counts as late when it was recorded to have happened more than 15 min after its hour.
"""

from litters.rollup.contributions import Contribution

_SQL = """
    SELECT w.litter_id, w.day, jsonb_build_object(
        'meals', m.meals, 'offered_dry_g', m.offered_g, 'eaten_dry_g', m.eaten_g, 'left_wet_g', m.left_g,
        'not_weighed_back', m.not_weighed_back, 'planned_kcal', m.planned_kcal, 'offered_kcal', m.offered_kcal,
        'meals_due', d.due, 'meals_done', d.done, 'meals_late', d.late, 'meals_missed', d.missed,
        'bottles', b.feeds, 'bottle_ml', b.taken_ml)
    FROM rollup_window w
    JOIN litters_litter l ON l.kennel_id = w.kennel_id AND l.id = w.litter_id
    CROSS JOIN LATERAL (
        SELECT count(*) AS meals, COALESCE(sum(dry_g), 0) AS offered_g, sum(left_wet_g) AS left_g,
            round(sum(dry_g * (1 - LEAST(left_wet_g, dry_g + water_ml) / NULLIF(dry_g + water_ml, 0))), 1) AS eaten_g,
            count(*) FILTER (WHERE left_wet_g IS NULL) AS not_weighed_back, sum(planned_energy_kcal) AS planned_kcal,
            round(sum(dry_g * planned_energy_kcal / NULLIF(planned_dry_g, 0)), 1) AS offered_kcal
        FROM feeding_meal f
        WHERE f.kennel_id = w.kennel_id AND f.litter_id = w.litter_id AND f.deleted_at IS NULL
          AND f.possible_duplicate_of IS NULL AND f.occurred_at >= w.from_at AND f.occurred_at < w.to_at
    ) m
    CROSS JOIN LATERAL (
        SELECT count(*) AS due, count(*) FILTER (WHERE u.state = 'closed') AS done,
            count(*) FILTER (WHERE u.state = 'closed' AND u.closed_at > u.due_at + interval '15 minutes') AS late,
            count(*) FILTER (WHERE u.state = 'missed') AS missed
        FROM duties_duty u
        WHERE u.kennel_id = w.kennel_id AND u.kind = 'meal' AND u.deleted_at IS NULL AND u.state <> 'cancelled'
          AND u.due_at >= w.from_at AND u.due_at < w.to_at AND u.asks ->> 'litter' = l.uid::text
    ) d
    CROSS JOIN LATERAL (
        SELECT count(*) AS feeds, COALESCE(sum(b.taken_ml), 0) AS taken_ml
        FROM feeding_bottlefeed b JOIN litters_pup p ON p.kennel_id = b.kennel_id AND p.id = b.pup_id
        WHERE b.kennel_id = w.kennel_id AND p.litter_id = w.litter_id AND b.deleted_at IS NULL
          AND b.possible_duplicate_of IS NULL AND b.occurred_at >= w.from_at AND b.occurred_at < w.to_at
    ) b
"""
FEEDING_TOTALS = Contribution("feeding", _SQL)
