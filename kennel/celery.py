"""Celery application.  Beat only ticks: messages carry no facts, jobs look in the database for what is due."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "kennel.settings")

app = Celery("kennel")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
