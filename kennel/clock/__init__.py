"""Pure arithmetic of wall time, recurrence and quiet hours.

Here a date and a time of day in a zone become an instant, and nowhere else. No Django, no `now()`,
no storage belongs here: the caller passes every instant in. Zone data is what `zoneinfo` finds; the
start command sets `PYTHONTZPATH=''`, so that the pinned `tzdata` package is used on every machine.
"""
