from django.apps import AppConfig


class OrdersConfig(AppConfig):
    name = "orders"
    verbose_name = "Orders"

    def ready(self) -> None:
        from . import (
            empty,
            letters,  # noqa: F401  (registers its job)
        )

        empty.say_what_to_do()
