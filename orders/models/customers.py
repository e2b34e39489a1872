"""Whom we grow for."""

from django.db import models
from django.utils.translation import gettext_lazy as _


class Customer(models.Model):
    name = models.CharField(_("name"), max_length=120, unique=True)
    contact = models.CharField(_("whom to ask for"), max_length=120, blank=True)
    email = models.EmailField(_("email"), blank=True)
    phone = models.CharField(_("telephone"), max_length=40, blank=True)
    address = models.TextField(_("address"), blank=True)
    country = models.CharField(_("country"), max_length=2, blank=True)
    tax_number = models.CharField(_("tax number"), max_length=40, blank=True)
    language = models.CharField(_("language"), max_length=10, blank=True)
    notes = models.TextField(_("notes"), blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["name"]
        verbose_name = _("customer")

    def __str__(self) -> str:
        return self.name
