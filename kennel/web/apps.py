"""App configuration of the web app."""

from django.apps import AppConfig


class WebConfig(AppConfig):
    name = "kennel.web"
    label = "web"
