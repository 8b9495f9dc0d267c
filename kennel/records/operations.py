"""Migration operations that put a table under protection."""

from typing import Any

from django.db.migrations.operations.base import Operation


class _OnTable(Operation):
    reduces_to_sql = True
    reversible = False

    def __init__(self, model: str) -> None:
        self.model = model

    def state_forwards(self, app_label: str, state: Any) -> None:
        """Protection is not part of the model state."""

    def database_backwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        """Dropping the table takes its protection along; nothing else undoes it."""

    def _table(self, app_label: str, state: Any) -> str:
        return str(state.apps.get_model(app_label, self.model)._meta.db_table)

    def describe(self) -> str:
        """One line for `migrate --plan`."""
        return f"{type(self).__name__} {self.model}"


class Protect(_OnTable):
    """Isolate, journal and version a record table.  `hidden` columns are journalled by name only."""

    reversible = True

    def __init__(self, model: str, hidden: tuple[str, ...] = ()) -> None:
        super().__init__(model)
        self.hidden = hidden

    def database_forwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        """Call the protection function for the table; the record type's name is the model's, with hyphens."""
        schema_editor.execute(
            "SELECT records_protect(%s::regclass, %s, %s)",
            [self._table(app_label, to_state), type_name(self.model), ",".join(self.hidden)],
        )


class ProtectMachine(_OnTable):
    """Isolate a table of machine rows."""

    reversible = True

    def database_forwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        """Call the protection function for the table."""
        schema_editor.execute(
            "SELECT records_protect_machine(%s::regclass)", [self._table(app_label, to_state)]
        )


class JournalIdentity(_OnTable):
    """Journal and version an identity table; no row-level security, it is read before a kennel is known."""

    reversible = True

    def __init__(self, model: str, hidden: tuple[str, ...] = (), silent: tuple[str, ...] = ()) -> None:
        super().__init__(model)
        self.hidden = hidden
        self.silent = silent

    def database_forwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        """Add the triggers; grants of identity tables are given in `kennel.people` migrations."""
        schema_editor.execute(
            "SELECT records_journalled(%s::regclass, %s, %s, %s)",
            [
                self._table(app_label, to_state),
                type_name(self.model),
                ",".join(self.hidden),
                ",".join(self.silent),
            ],
        )


def type_name(model: str) -> str:
    """Record type name of a model: WhelpingEntry -> whelping-entry."""
    return "".join(f"-{c.lower()}" if c.isupper() and i else c.lower() for i, c in enumerate(model))
