"""A person who signs in."""

from typing import TYPE_CHECKING, Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.db import models
from django.db.models.functions import Lower

from kennel.people.choices import MassUnit, TemperatureUnit
from kennel.records.ids import new_uid

if TYPE_CHECKING:
    from kennel.people.selectors import Turn


class CarerManager(BaseUserManager["Carer"]):
    """Makes carers; the e-mail address is the sign-in name."""

    def create_user(self, email: str, password: str | None = None, **fields: Any) -> "Carer":
        """Make and save a carer.  Raises ValueError without an e-mail address."""
        if not email:
            raise ValueError("A carer needs an e-mail address.")
        carer = self.model(email=self.normalize_email(email).lower(), **fields)
        carer.set_password(password)
        carer.save(using=self._db)
        return carer


class Carer(AbstractBaseUser, PermissionsMixin):
    """A person with an account.  Belongs to any number of kennels through memberships."""

    uid = models.UUIDField(default=new_uid, unique=True, editable=False)
    email = models.EmailField(max_length=254, unique=True)
    name = models.CharField(max_length=80)
    zone = models.CharField(max_length=64, default="UTC")
    mass_unit = models.CharField(max_length=2, choices=MassUnit, default=MassUnit.GRAM)
    temperature_unit = models.CharField(
        max_length=1, choices=TemperatureUnit, default=TemperatureUnit.CELSIUS
    )
    quiet_from = models.TimeField(null=True, blank=True)
    quiet_until = models.TimeField(null=True, blank=True)
    is_active = models.BooleanField(default=True)
    is_staff = False
    # Not stored: set on the carer of a request whose session was opened at a shared tablet.
    turn: "Turn | None" = None
    joined_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[CarerManager] = CarerManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(email=Lower("email")), name="people_carer_email_lower")
        ]

    def __str__(self) -> str:
        return self.name

    def get_short_name(self) -> str:
        """First word of the name, for tight places such as the board."""
        return self.name.split(" ", 1)[0]
