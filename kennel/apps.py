"""App configuration of the platform itself: it carries the management commands."""

from django.apps import AppConfig


class KennelConfig(AppConfig):
    name = "kennel"
    label = "kennel"
