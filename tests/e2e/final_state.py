"""Everything the server holds at the end, without what differs from run to run by nature.

Left out: uids the server made, versions, instants of recording.  Duties and messages are named by what they are about.
"""

from collections import Counter
from typing import Any

from tests.e2e.scene import Scene

LISTS = (
    "dogs",
    "litters",
    "pups",
    "weighings",
    "foods",
    "feeding-plans",
    "meals",
    "medicines",
    "treatment-plans",
    "treatments",
    "departures",
    "box-climate",
    "watches",
    "shifts",
)
_BY_NATURE = {"recorded_at", "version", "opened_at", "member"}


def final_state(scene: Scene) -> dict[str, Any]:
    """Records by uid, duties with their animals, messages with what became of them, letters of each person."""
    state: dict[str, Any] = {}
    for name in LISTS:
        rows = scene.maud.every(name)
        state[name] = sorted(
            ({key: value for key, value in row.items() if key not in _BY_NATURE} for row in rows),
            key=lambda row: str(row["uid"]),
        )
    duties = scene.maud.every("agenda")
    named = {one["uid"]: (one["title"], one["due_at"][:16]) for one in duties}
    state["duties"] = sorted(
        (
            *named[one["uid"]],
            one["state"],
            one["text"],
            sorted((a["name"], a["state"]) for a in one["animals"]),
        )
        for one in duties
    )
    state["messages"] = Counter(
        (
            *(named[one["duty"]] if one["duty"] else (one["subject"], "")),
            one["carer"],
            one["channel"],
            one["step"],
            one["state"],
        )
        for one in scene.maud.every("reminders?whose=all")
    )
    # allauth puts the address of the server before its subjects, and the port differs from run to run.
    state["letters"] = {
        one.name: Counter(subject.split("] ")[-1] for subject in one.subjects()) for one in scene.people
    }
    return state
