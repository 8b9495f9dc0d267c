"""App configuration of the health app: registers what it adds to the platform."""

from django.apps import AppConfig


class HealthConfig(AppConfig):
    name = "health"
