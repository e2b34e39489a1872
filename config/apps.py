"""The wiring app: it owns the base pages, the commands, the roles and the site's static files."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class WiringConfig(AppConfig):
    name = "config"
    label = "wiring"
    verbose_name = "Graftwright"

    def ready(self) -> None:
        from .roles import sync_roles

        post_migrate.connect(sync_roles, dispatch_uid="sync-roles")
