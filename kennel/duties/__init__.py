"""What is due, who is told, and what came of it.  Knows time, people and messages; nothing about dogs.

`Routine` (what recurs) -> `Duty` (one thing due at one instant) -> `Reminder` (one message to one carer on
one channel).  Routines, duties, shifts and taps are records; reminders are machine rows.  Three states
between people are never mixed up: *seen*, *taken* (15 minutes, visible to all) and *done*, which only a
recorded fact brings about.

How an app adds a duty kind (feeding and health do it like this), in three steps:

1. Say what it asks for.  `plan` gets all occasions at once, answers in their order, None = nothing then::

       def plan_meals(occasions: Sequence[Occasion], door: Door) -> list[Asked | None]:
           rations = rations_at([(o.routine.subject_uid, o.due_at) for o in occasions], door)  # set-based
           return [None if ration is None else _asked(ration) for ration in rations]

       def _asked(ration: Ration) -> Asked:
           return Asked(
               animals=[Animal("pup", p.uid, p.name, {"energy_kcal": p.energy_kcal}) for p in ration.pups],
               asks={"energy_kcal": ration.energy_kcal, "dry_g": ration.dry_g, "weights": ration.weights},
               cautions=[Caution("stale_weight", "Two pups were last weighed 3 days ago.")],
           )

2. Register it in `apps.py` (`ready`), with the record types whose facts close it::

       kinds.register_subject(PUP, "COALESCE(NULLIF(t.name, ''), t.band)")  # what people call one
       kinds.register(DutyKind("meal", "Meal", plan=plan_meals, describe=meal_text, done_by=("meal",),
                               level=Level.DUE, useful_for=timedelta(hours=2), wakes_night_duty=True))

   `services.routines.routines_set(source_type, source_uid, wanted, door)` makes the routines of a plan those
   wanted: it creates, changes and ends them.

3. Close duties in the reaction of the fact, in the same transaction, and say when facts change what lies
   ahead::

       def on_meals(saved: Sequence[Saved], door: Door) -> None:
           completing.complete("meal", [Done(s.uid, "pup", pup_uid, at) for ...], door)
           planning.replan_later(door, subjects=[("litter", litter_uid)])  # within 15 s, by the next tick

       types.react(["meal"], on_meals)

   A fact that was deleted, or moved to another animal: `completing.uncomplete("meal", [uid], door)`, then
   `complete` again.  `planning.replan(planning.routines_of(door, subjects=[...]), door)` recomputes at once.
   `board.register(hook)` adds "keep an eye on" entries.
"""
