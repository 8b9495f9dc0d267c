"""What is due, who is told, and what came of it.  Knows time, people and messages; nothing about dogs.

`Routine` (what recurs) -> `Duty` (one thing due at one instant) -> `Reminder` (one message to one carer on
one channel).  Routines, duties, shifts and taps are records; reminders are machine rows.  Three states
between people are never mixed up: *seen*, *taken* (15 minutes, visible to all) and *done*, which only a
recorded fact brings about.

How an app adds a duty kind (feeding and health do it like this), in three steps:

1. Say what it asks for.  `plan` gets every occasion at once (no query in a loop) and answers in the same
order::

       def plan_meals(occasions: Sequence[Occasion], door: Door) -> list[Asked | None]:
           rations = rations_at([(o.routine.subject_uid, o.due_at) for o in occasions], door)   # set-based
           return [
               None if ration is None else Asked(
                   animals=[Animal("pup", pup.uid, pup.name, {"energy_kcal": pup.energy_kcal}) for pup in
                   ration.pups], asks={"energy_kcal": ration.energy_kcal, "dry_g": ration.dry_g, "weights":
                   ration.weights}, cautions=[("stale_weight", "Two pups were last weighed 3 days ago.")],
               )
               for ration in rations
           ]

2. Register it in `apps.py` (`ready`), with the record types whose facts close it::

       kinds.register_subject(PUP, "COALESCE(NULLIF(t.name, ''), t.band)")       # how people call one
       kinds.register(DutyKind("meal", "Meal", plan=plan_meals, describe=meal_text, done_by=("meal",),
                               level=Level.DUE, useful_for=timedelta(hours=2), wakes_night_duty=True))

   Make routines of that kind from a plan with `services.routines.routines_set(source_type, source_uid,
   wanted, door)`; it creates, changes and ends them so that they are what is wanted.

3. Close duties in the reaction of the fact, in the same transaction, and say when facts change what lies
ahead::

       def on_meals(saved: Sequence[Saved], door: Door) -> None:
           completing.complete("meal", [Done(s.uid, "pup", pup_uid, at) for ...],
           door) planning.replan_later([("litter", litter_uid)], door)      # the next tick recomputes what is
           unsent

       types.react(["meal"], on_meals)

   A fact that was deleted or moved: `completing.uncomplete("meal", [uid, ...], door)`, then `complete` again.
   `planning.replan(routine_ids, door)` recomputes at once.  `board.register(hook)` adds "keep an eye on"
   entries.
"""
