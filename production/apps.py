from django.apps import AppConfig


class ProductionConfig(AppConfig):
    name = "production"
    verbose_name = "Production"

    def ready(self) -> None:
        from . import papers, receivers  # noqa: F401  (they register jobs and receivers)
        from .services import holding, levelling, order_lists, resizing  # noqa: F401  (they register their jobs)
