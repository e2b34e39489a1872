"""The Celery application of the real installation; the embedded one never connects to a broker."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("graftwright")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
