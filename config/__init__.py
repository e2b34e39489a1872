"""Wiring only: settings, addresses, roles and the pages that join the apps. Imported by no app."""

from .celery import app as celery_app

__all__ = ["celery_app"]
