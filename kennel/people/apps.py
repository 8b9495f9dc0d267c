"""App configuration of the people app."""

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    name = "kennel.people"
    label = "people"
