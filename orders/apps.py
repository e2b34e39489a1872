from django.apps import AppConfig


class OrdersConfig(AppConfig):
    name = "orders"
    verbose_name = "Orders"

    def ready(self) -> None:
        from . import letters  # noqa: F401  (registers its job)
