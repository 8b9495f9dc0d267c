"""App configuration of the litters app: registers what it adds to the platform."""

from django.apps import AppConfig


class LittersConfig(AppConfig):
    name = "litters"

    def ready(self) -> None:
        """Register the record types and the pages."""
        from kennel import demo
        from litters import demo as litters_demo
        from litters import registrations  # noqa: F401
        from litters.web.registration import register

        register()
        demo.add(10, litters_demo.fill)
