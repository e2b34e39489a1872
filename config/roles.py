"""THE place for permissions: which role may do what. Roles are Django groups, made after every migration."""

from __future__ import annotations

from typing import Any

OFFICE = (
    "orders.see_orders",
    "orders.take_orders",
    "orders.confirm_orders",
    "orders.send_letters",
    "production.see_work",
    "production.hand_over",
    "invoicing.see_money",
    "invoicing.issue_invoices",
    "invoicing.record_payments",
)
CREW = ("production.see_work", "production.record_work", "production.hand_over")

ROLES: dict[str, tuple[str, ...]] = {
    "grower": (
        *OFFICE,
        *CREW,
        "orders.edit_nursery",
        "orders.see_costs",
        "production.promise_over_conflict",
        "production.replan",
    ),
    "office": OFFICE,
    "crew": CREW,
}


def sync_roles(**_kwargs: Any) -> None:
    """Make the groups and give each just the permissions listed here."""
    from django.contrib.auth.models import Group, Permission

    known = {
        f"{permission.content_type.app_label}.{permission.codename}": permission
        for permission in Permission.objects.select_related("content_type")
    }
    for name, codes in ROLES.items():
        group, _made = Group.objects.get_or_create(name=name)
        group.permissions.set([known[code] for code in codes if code in known])
