"""App configuration of the upkeep app."""

from django.apps import AppConfig


class UpkeepConfig(AppConfig):
    name = "kennel.upkeep"
    label = "upkeep"

    def ready(self) -> None:
        """Say on every page when reminders stand still or the backup is old."""
        from kennel.upkeep import probes
        from kennel.web import banners

        banners.add(probes.banner)
