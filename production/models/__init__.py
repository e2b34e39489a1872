"""The tables of growing: places and hands, protocols, what grows, and the work that is to do."""

from .calendar import CalendarLink
from .growing import Allocation, Batch, Part, SeedLot, Sowing, Stay
from .levelling import SeasonLevelling
from .order_lists import OrderList
from .places import ClosedDay, Person, PersonAbsence, PersonPart, Place, PlaceOpening, PlaceTemperature, Skill
from .protocols import Protocol, ProtocolStage, StageWork
from .stamps import PartStamp
from .work import Count, Work

__all__ = [
    "Allocation",
    "Batch",
    "CalendarLink",
    "ClosedDay",
    "Count",
    "OrderList",
    "Part",
    "PartStamp",
    "Person",
    "PersonAbsence",
    "PersonPart",
    "Place",
    "PlaceOpening",
    "PlaceTemperature",
    "Protocol",
    "ProtocolStage",
    "SeasonLevelling",
    "SeedLot",
    "Skill",
    "Sowing",
    "StageWork",
    "Stay",
    "Work",
]
