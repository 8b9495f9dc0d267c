"""Record forms: a record type's input as a form.  Saving goes through `kennel.records.service` and the door.

A form carries the new record's uid (pressing twice makes one record) or the version it was opened at (what
somebody else changed meanwhile is shown beside what was typed, never overwritten unseen).
"""

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

import orjson

from kennel.people.choices import RANK
from kennel.records import door, service, store, types
from kennel.records.ids import new_uid
from kennel.records.refusals import Refusal
from kennel.records.types import RecordType
from kennel.web.base import KennelPage
from kennel.web.form_fields import Entry, ShownField, data_of, shown_field, text_of

# What pydantic says to programmers, said to carers.
PLAIN_WORDS = {
    "missing": "Please fill this in.",
    "string_too_short": "Please fill this in.",
    "required": "Please say why: it stands beside the correction.",
    "decimal_parsing": "Please write a number.",
    "decimal_type": "Please write a number.",
    "int_type": "Please write a whole number.",
    "int_parsing": "Please write a whole number.",
    "number": "Please write a number, such as 412 or 14.5.",
    "enum": "Please choose one.",
    "uid": "Please choose one.",
    "parent_missing": "This is not here any more. Please choose again.",
    "string_pattern_mismatch": "This is not written as expected.",
}


class RecordForm:
    """A form for one record: a new one, or a change of `row` (the record as the API shows it)."""

    def __init__(
        self,
        type_name: str,
        entries: Sequence[Entry],
        zone: str,
        *,
        row: Mapping[str, Any] | None = None,
        initial: Mapping[str, Any] | None = None,
        asks_reason: bool = False,
    ) -> None:
        found = types.by_name(type_name)
        if found is None:
            raise LookupError(f"no record type is named {type_name}")
        self.record_type: RecordType = found
        self.zone = zone
        self.row = row
        self.uid = row["uid"] if row else str(new_uid())
        self.version = row["version"] if row else None
        self.errors: list[str] = []
        self.is_stale = False
        self.meanwhile: list[str] = []
        if asks_reason:
            entries = [*entries, Entry("reason", "Why is it corrected?", "Both values stay on record.")]
        self.fields: list[ShownField] = [shown_field(found.input, entry) for entry in entries]
        for shown in self.fields:
            if shown.entry.name == "reason" and asks_reason:
                shown.is_required = True
                shown.kind = "text"
            elif row is not None:
                shown.value = text_of(row.get(shown.entry.name), shown.kind, zone)
            elif initial and shown.entry.name in initial:
                shown.value = text_of(initial[shown.entry.name], shown.kind, zone)
        self.basis = {f.entry.name: f.value for f in self.fields}

    @property
    def basis_text(self) -> str:
        """What the fields said when the form was opened, for telling changed ones from untouched ones."""
        return orjson.dumps(self.basis).decode()

    @property
    def visible(self) -> list[ShownField]:
        """Fields that people see at once."""
        return [f for f in self.fields if not f.entry.is_hidden and not f.entry.is_more]

    @property
    def more(self) -> list[ShownField]:
        """Fields that are folded away."""
        return [f for f in self.fields if f.entry.is_more]

    @property
    def is_more_open(self) -> bool:
        """Whether something in the folded part needs to be seen."""
        return any(f.errors for f in self.more)

    @property
    def hidden(self) -> list[ShownField]:
        """Fields that travel along unseen."""
        return [f for f in self.fields if f.entry.is_hidden]

    @property
    def has_errors(self) -> bool:
        """Whether anything was refused."""
        return bool(self.errors) or any(f.errors for f in self.fields)

    def read(self, post: Mapping[str, Any]) -> dict[str, Any]:
        """Data of a new record from what was sent; what was typed stays in the fields."""
        self.uid = _uid_text(post.get("uid")) or self.uid
        return {name: value for name, value in self._typed(post).items() if value is not None}

    def read_changes(self, post: Mapping[str, Any]) -> dict[str, Any]:
        """A merge patch of the fields that were changed since the form was opened."""
        self.version = version_of(post)
        self.basis = _basis(post.get("basis", "")) or self.basis
        values = self._typed(post)
        return {
            f.entry.name: values[f.entry.name]
            for f in self.fields
            if f.value != self.basis.get(f.entry.name, "")
        }

    def _typed(self, post: Mapping[str, Any]) -> dict[str, Any]:
        values = {}
        for shown in self.fields:
            shown.value = str(post.get(shown.entry.name, "")).replace("\r\n", "\n")
            values[shown.entry.name] = data_of(shown.value, shown.kind, self.zone)
        return values

    def refuse(self, refusal: Refusal) -> None:
        """Put each error beside its field, the rest on top."""
        by_name = {f.entry.name: f for f in self.fields}
        for error in refusal.errors:
            text = PLAIN_WORDS.get(error.code, error.detail)
            name = error.pointer.removeprefix("#/")
            if name in by_name:
                by_name[name].errors.append(text)
            else:
                self.errors.append(text if not name or name == "#" else f"{name}: {text}")
        if not refusal.errors:
            self.errors.append(refusal.detail or "This could not be stored.")

    def meet(self, row: Mapping[str, Any]) -> None:
        """Somebody changed the record meanwhile: show that, keep what was typed, go on from there."""
        self.row, self.version, self.is_stale = row, row["version"], True
        for shown in self.fields:
            name = shown.entry.name
            if name == "reason":
                continue
            current = text_of(row.get(name), shown.kind, self.zone)
            was_touched = shown.value != self.basis.get(name, "")
            if current != self.basis.get(name, ""):
                self.meanwhile.append(
                    f"{shown.entry.label}: {self.basis.get(name) or 'empty'} → {current or 'empty'}"
                )
            if not was_touched:
                shown.value = current
            self.basis[name] = current


def version_of(post: Mapping[str, Any]) -> int:
    """The version a form says it was opened at; 0, which no record has, for anything else."""
    sent = str(post.get("version", ""))
    return int(sent) if sent.isdecimal() and len(sent) < 10 else 0


def _uid_text(sent: Any) -> str | None:
    try:
        return str(UUID(str(sent)))
    except ValueError:
        return None


def _basis(text: Any) -> dict[str, str]:
    try:
        value = orjson.loads(str(text)[:20_000])
    except orjson.JSONDecodeError:
        return {}
    return {str(k): str(v) for k, v in value.items()} if isinstance(value, dict) else {}


def save_new(page: KennelPage, form: RecordForm, data: Mapping[str, Any]) -> UUID | None:
    """Store a new record; its uid, or None when it was refused (the form then says why)."""
    _need_role(page, form.record_type)
    try:
        checked = service.check(form.record_type.input, dict(data))
        item = service.NewRecord(0, UUID(form.uid), checked)
        with door.write(page.here, page.actor, page.at) as opened:
            outcome = service.create(form.record_type, [item], opened)[0]
    except Refusal as refusal:
        if refusal.slug not in ("validation", "parent-missing"):
            raise
        form.refuse(refusal)
        return None
    if outcome.refusal is None:
        return outcome.uid
    if outcome.refusal.slug == "uid-conflict":
        form.errors.append(
            "This form was sent before, with other values. Open the stored entry to correct it."
        )
    else:
        form.refuse(outcome.refusal)
    return None


def save_changes(page: KennelPage, form: RecordForm, patch: dict[str, Any]) -> bool:
    """Store a change; False when it was refused (the form then says why)."""
    _need_role(page, form.record_type)
    uid = UUID(form.uid)
    try:
        with door.write(page.here, page.actor, page.at) as opened:
            change = service.Change(0, uid, frozenset({form.version or 0}), patch)
            outcome = service.update(form.record_type, [change], opened)[0]
            current = store.show(form.record_type, page.here.id, [uid]).get(uid)
    except Refusal as refusal:
        if refusal.slug not in ("validation", "parent-missing"):
            raise
        form.refuse(refusal)
        return False
    if outcome.refusal is None:
        return True
    if outcome.refusal.slug == "version-mismatch" and current:
        form.meet(store.load(current.text))
    else:
        form.refuse(outcome.refusal)
    return False


def remove(
    page: KennelPage, type_name: str, uid: UUID, version: int, reason: str, *, restore: bool = False
) -> Refusal | None:
    """Mark a record removed, or bring it back; the refusal when that did not go."""
    record_type = types.by_name(type_name)
    assert record_type is not None
    _need_role(page, record_type)
    with door.write(page.here, page.actor, page.at) as opened:
        change = service.Change(0, uid, frozenset({version}), {"reason": reason} if reason else {})
        return service.delete(record_type, [change], opened, restore=restore)[0].refusal


def _need_role(page: KennelPage, record_type: RecordType) -> None:
    if RANK[page.actor.role] < RANK[record_type.write_role]:
        raise Refusal("forbidden", "Your role in this kennel does not allow that.")


__all__ = ["Entry", "RecordForm", "remove", "save_changes", "save_new", "version_of"]
