"""The wiring app: it owns the base pages, the commands and the site's static files."""

from django.apps import AppConfig


class WiringConfig(AppConfig):
    name = "config"
    label = "wiring"
    verbose_name = "Graftwright"
