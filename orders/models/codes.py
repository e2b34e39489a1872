"""Short codes that can be read aloud and are never used twice."""

from django.db import models, transaction


class CodeSeries(models.Model):
    """The next number of one series: 'order', 'batch', 'sowing', 'lot'. Gaps are allowed, repeats are not."""

    name = models.CharField(max_length=20, primary_key=True)
    next_number = models.PositiveIntegerField(default=1)

    def __str__(self) -> str:
        return f"{self.name}: {self.next_number}"

    @classmethod
    def take(cls, name: str) -> int:
        """The next number of the series; its row stays locked until the caller's transaction ends."""
        with transaction.atomic():
            cls.objects.get_or_create(name=name)
            series = cls.objects.select_for_update().get(name=name)
            number = series.next_number
            series.next_number = number + 1
            series.save(update_fields=["next_number"])
            return number
