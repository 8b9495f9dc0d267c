"""Closed lists used by the identity tables."""

from django.db.models import TextChoices


class Role(TextChoices):
    """What a member may do in one kennel."""

    KEEPER = "keeper", "Keeper (responsible)"
    CARER = "carer", "Carer"
    READER = "reader", "Reader"


RANK = {Role.READER: 0, Role.CARER: 1, Role.KEEPER: 2}


class MassUnit(TextChoices):
    """Units a weight may be typed and shown in."""

    GRAM = "g", "grams"
    KILOGRAM = "kg", "kilograms"
    OUNCE = "oz", "ounces"
    POUND = "lb", "pounds"


class TemperatureUnit(TextChoices):
    """Units a temperature may be typed and shown in."""

    CELSIUS = "C", "degrees Celsius"
    FAHRENHEIT = "F", "degrees Fahrenheit"


class DeviceKind(TextChoices):
    """What a paired device is."""

    PHONE = "phone", "phone"
    TABLET = "tablet", "shared tablet"
    SCALE = "scale", "scale"
    PROGRAM = "program", "program"


class Scope(TextChoices):
    """What a device token may be used for."""

    READ = "read", "read records"
    WRITE = "write", "write records"
    MANAGE = "manage", "invite people, pair devices, change settings"
