"""App configuration of the litters app: registers what it adds to the platform."""

from django.apps import AppConfig


class LittersConfig(AppConfig):
    name = "litters"

    def ready(self) -> None:
        """Register the record types and the pages."""
        from litters import registrations  # noqa: F401
        from litters.web.registration import register

        register()
