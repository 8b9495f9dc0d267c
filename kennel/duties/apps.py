"""App configuration of the duties app."""

from django.apps import AppConfig


class DutiesConfig(AppConfig):
    name = "kennel.duties"
    label = "duties"
