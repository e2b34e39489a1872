from django.apps import AppConfig
from django.db.models.signals import post_migrate


class ProductionConfig(AppConfig):
    name = "production"
    verbose_name = "Production"

    def ready(self) -> None:
        from . import papers, receivers, stamps  # noqa: F401  (they register jobs and receivers)
        from .services import holding, levelling, order_lists, resizing  # noqa: F401  (they register their jobs)

        post_migrate.connect(stamps.install, sender=self, dispatch_uid="stamp-parts")
