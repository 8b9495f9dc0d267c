"""Which database cluster these records live in."""

from django.db import models


class Installation(models.Model):
    """One row: the cluster the server was set up on or restored into.

    A database copied by hand into another cluster keeps the old number; the server then refuses to serve until
    `restore --adopt` has given every kennel a new epoch, so that no device trusts a cursor of the lost past.
    """

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    system_identifier = models.BigIntegerField()

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(id=1), name="upkeep_installation_only_one")]

    def __str__(self) -> str:
        return str(self.system_identifier)
