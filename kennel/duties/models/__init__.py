"""Routines, duties and what people did about them (records); reminders and ticks (machine rows)."""

from kennel.duties.models.action import DutyAction
from kennel.duties.models.duty import Duty, DutyAnimal
from kennel.duties.models.reminder import Reminder, ReminderChoice, Tick
from kennel.duties.models.routine import PlanMark, Routine
from kennel.duties.models.shift import Shift

__all__ = [
    "Duty",
    "DutyAction",
    "DutyAnimal",
    "PlanMark",
    "Reminder",
    "ReminderChoice",
    "Routine",
    "Shift",
    "Tick",
]
