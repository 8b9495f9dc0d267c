"""App configuration of the feeding app: registers what it adds to the platform."""

from django.apps import AppConfig


class FeedingConfig(AppConfig):
    name = "feeding"
