"""App configuration of the reports app."""

from django.apps import AppConfig


class ReportsConfig(AppConfig):
    name = "kennel.reports"
    label = "reports"
