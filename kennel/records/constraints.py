"""SameKennel: a composite foreign key (kennel_id, parent_id) that no row-level policy can be tricked around."""

from typing import Any

from django.db import models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.backends.ddl_references import Statement
from django.db.models.constraints import BaseConstraint


class SameKennel(BaseConstraint):
    """The parent named by `field` must exist in the same kennel as the child.  Checked at once, not at commit."""

    def __init__(self, *, field: str, name: str, **kwargs: Any) -> None:
        self.field = field
        super().__init__(name=name, **kwargs)

    def _foreign_key(self, model: type[models.Model], schema_editor: BaseDatabaseSchemaEditor) -> str:
        quote = schema_editor.quote_name
        foreign = model._meta.get_field(self.field)
        assert isinstance(foreign, models.ForeignKey)
        parent_table = foreign.related_model._meta.db_table
        assert foreign.column is not None
        return (
            f"CONSTRAINT {quote(self.name)} FOREIGN KEY (kennel_id, {quote(foreign.column)}) "
            f"REFERENCES {quote(parent_table)} (kennel_id, id)"
        )

    def constraint_sql(self, model: Any, schema_editor: Any) -> str:
        """Nothing inside CREATE TABLE: the parent's own unique constraint may be made later in the same migration."""
        schema_editor.deferred_sql.append(self.create_sql(model, schema_editor))
        return ""

    def create_sql(self, model: Any, schema_editor: Any) -> Any:
        """ALTER TABLE that adds the key."""
        return Statement(
            "ALTER TABLE %(table)s ADD %(key)s",
            table=schema_editor.quote_name(model._meta.db_table),
            key=self._foreign_key(model, schema_editor),
        )

    def remove_sql(self, model: Any, schema_editor: Any) -> Any:
        """ALTER TABLE that drops the key."""
        return Statement(
            "ALTER TABLE %(table)s DROP CONSTRAINT %(name)s",
            table=schema_editor.quote_name(model._meta.db_table),
            name=schema_editor.quote_name(self.name),
        )

    def validate(self, *args: Any, **kwargs: Any) -> None:
        """Left to the database, which sees every row."""

    def deconstruct(self) -> tuple[str, tuple[Any, ...], dict[str, Any]]:
        """Arguments a migration needs to make this again."""
        path, args, kwargs = super().deconstruct()
        return path, tuple(args), {**kwargs, "field": self.field}

    def __eq__(self, other: object) -> bool:
        return isinstance(other, SameKennel) and (self.name, self.field) == (other.name, other.field)

    __hash__ = BaseConstraint.__hash__


def same_kennel(*fields: str) -> list[SameKennel]:
    """A SameKennel constraint for each parent field, named after table and field."""
    return [SameKennel(field=field, name=f"%(app_label)s_%(class)s_{field}_here") for field in fields]
