"""Whether what a part takes of places and hands has changed since it was last read."""

from __future__ import annotations

from django.db import models


class PartStamp(models.Model):
    """Another number each time that anything in a part's rows changes: kept by triggers (`production.stamps`).

    A number never comes twice, also not after a transaction that was rolled back.
    """

    part_id = models.BigIntegerField(primary_key=True)  # no foreign key: the trigger outlives no part
    stamp = models.BigIntegerField()

    def __str__(self) -> str:
        return f"{self.part_id}: {self.stamp}"
