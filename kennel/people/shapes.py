"""How kennels, members, invitations and devices are shown: one SQL expression each, for lists and feed."""

from dataclasses import dataclass

from kennel.people.choices import Role

# Spelled as in kennel.records.store: UTC with milliseconds and Z.
_INSTANT = '\'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"\''


def _instant(column: str) -> str:
    return f"to_char({column} AT TIME ZONE 'UTC', {_INSTANT})"


@dataclass(frozen=True)
class Shape:
    """One identity type: its table `t`, what everybody allowed sees, what its own list adds, when it is gone.

    private: values that no other device holds a copy of (addresses), or that change without a new version.
    """

    name: str
    table: str
    read_role: Role
    public: dict[str, str]
    private: dict[str, str]
    gone: str
    joins: str = ""

    def body(self, *, with_private: bool) -> str:
        """SQL that makes the JSON text of a row."""
        shown = {
            "uid": "t.uid",
            "version": "t.version",
            **self.public,
            "recorded_at": _instant("t.recorded_at"),
            "deleted": self.gone,
            **(self.private if with_private else {}),
        }
        pairs = (f"'{key}', {value}" for key, value in shown.items())
        return f"json_build_object({', '.join(pairs)})::text"


_KENNEL_COLUMNS = (
    "name",
    "zone",
    "mass_unit",
    "temperature_unit",
    "place",
    "vet_name",
    "vet_phone",
    "night_vet_phone",
)

SHAPES: dict[str, Shape] = {
    shape.name: shape
    for shape in (
        Shape(
            name="kennel",
            table="people_kennel",
            read_role=Role.READER,
            public={column: f"t.{column}" for column in _KENNEL_COLUMNS},
            private={},
            gone="false",
        ),
        Shape(
            name="membership",
            table="people_membership",
            read_role=Role.READER,
            public={
                "carer": "c.uid",
                "name": "c.name",
                "role": "t.role",
                "has_pin": "t.pin_hash <> ''",
                "ended_at": _instant("t.ended_at"),
            },
            private={"email": "c.email"},
            gone="t.ended_at IS NOT NULL",
            joins="JOIN people_carer c ON c.id = t.carer_id",
        ),
        Shape(
            name="device",
            table="people_device",
            read_role=Role.CARER,
            public={
                "name": "t.name",
                "kind": "t.kind",
                "scopes": "t.scopes",
                "carer": "c.uid",
                "carer_name": "c.name",
                "is_paired": "t.token_key IS NOT NULL",
                "expires_at": _instant("t.expires_at"),
                "revoked_at": _instant("t.revoked_at"),
            },
            private={"last_used_at": _instant("t.last_used_at")},
            gone="t.revoked_at IS NOT NULL",
            joins="LEFT JOIN people_carer c ON c.id = t.carer_id",
        ),
        Shape(
            name="invitation",
            table="people_invitation",
            read_role=Role.KEEPER,
            public={
                "role": "t.role",
                "kind": "CASE WHEN t.email = '' THEN 'room' ELSE 'mail' END",
                "invited_by": "i.name",
                "expires_at": _instant("t.expires_at"),
                "accepted_at": _instant("t.accepted_at"),
                "accepted_by": "c.name",
                "withdrawn_at": _instant("t.withdrawn_at"),
            },
            private={"email": "t.email"},
            gone="t.withdrawn_at IS NOT NULL",
            joins="LEFT JOIN people_carer c ON c.id = t.accepted_by_id"
            " LEFT JOIN people_carer i ON i.id = t.invited_by_id",
        ),
    )
}
