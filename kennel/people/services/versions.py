"""Preconditions of changes to identity rows: the same rules as for records."""

from kennel.records.refusals import Refusal


def expect(version: int, accepted: frozenset[int] | None) -> None:
    """Raise Refusal("version-mismatch") unless the caller accepts this version; None accepts any."""
    if accepted is not None and version not in accepted:
        raise Refusal("version-mismatch")
