"""App configuration of the records app."""

from django.apps import AppConfig


class RecordsConfig(AppConfig):
    name = "kennel.records"
    label = "records"
