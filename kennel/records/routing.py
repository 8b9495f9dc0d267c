"""Database routing: `jobs` is the same database as `default` under another role, so it is never migrated."""

from typing import Any


class OneSchema:
    """Migrate only `default`."""

    def allow_migrate(self, db: str, app_label: str, **hints: Any) -> bool | None:
        """Whether migrations run on this alias."""
        return db == "default"
