"""Days in addresses: /day/2027-04-21/."""

from datetime import date


class DayConverter:
    regex = r"[12]\d{3}-\d{2}-\d{2}"  # far enough from the first and last day there is to reckon around it

    def to_python(self, value: str) -> date:
        return date.fromisoformat(value)  # a ValueError makes the address unknown

    def to_url(self, value: date | str) -> str:
        return value if isinstance(value, str) else value.isoformat()
