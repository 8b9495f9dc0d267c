"""App configuration of the duties app: registers its record types, views and ticks."""

from django.apps import AppConfig


class DutiesConfig(AppConfig):
    name = "kennel.duties"
    label = "duties"

    def ready(self) -> None:
        """Register the record types and the API views."""
        from kennel.duties import pages, registrations

        registrations.register()
        pages.register()
