"""App configuration of the people app: registers its API, its pages and what follows a password reset."""

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    name = "kennel.people"
    label = "people"

    def ready(self) -> None:
        """Register everything."""
        from kennel.people import registrations

        registrations.register()
