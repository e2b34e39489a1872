from django.apps import AppConfig
from django.db.models.signals import post_migrate


class ProductionConfig(AppConfig):
    name = "production"
    verbose_name = "Production"

    def ready(self) -> None:
        # These register jobs and receivers.
        from . import papers, receivers, stamps  # noqa: F401
        from .services import holding, levelling, list_taking, order_lists, resizing  # noqa: F401

        post_migrate.connect(stamps.install, sender=self, dispatch_uid="stamp-parts")
