"""App configuration of the api app."""

from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "kennel.api"
    label = "api"
