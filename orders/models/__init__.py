"""The tables of the order file: who, what, at what price, and all we told them."""

from .catalogue import Container, Crop, Method, PlaceKind, Price, Variety
from .codes import CodeSeries
from .customers import Customer
from .history import HistoryEntry
from .jobs import Job
from .nursery import Nursery
from .orders import Order, OrderLine
from .papers import Document, Letter, MailboxMessage
from .people import User

__all__ = [
    "CodeSeries",
    "Container",
    "Crop",
    "Customer",
    "Document",
    "HistoryEntry",
    "Job",
    "Letter",
    "MailboxMessage",
    "Method",
    "Nursery",
    "Order",
    "OrderLine",
    "PlaceKind",
    "Price",
    "User",
    "Variety",
]
