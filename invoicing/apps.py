from django.apps import AppConfig
from django.db.models.signals import post_migrate


class InvoicingConfig(AppConfig):
    name = "invoicing"
    verbose_name = "Invoicing"

    def ready(self) -> None:
        from . import guards, papers, receivers  # noqa: F401  (jobs and signals are registered on import)

        post_migrate.connect(guards.install, sender=self, dispatch_uid="guard-issued-rows")
