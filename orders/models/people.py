"""Who signs in. What each may do stands in config/roles.py."""

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.utils.translation import gettext_lazy as _


class User(AbstractUser):
    """A person of the nursery. The customer has no account."""

    language = models.CharField(_("language"), max_length=10, blank=True)

    @property
    def shown_name(self) -> str:
        return self.get_full_name() or self.username
