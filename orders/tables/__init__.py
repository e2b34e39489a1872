"""Lists that come from a file or leave as one: CSV and spreadsheets in, CSV out."""

from .reading import MOST_BYTES, MOST_ROWS, Row, Table, read_table

__all__ = ["MOST_BYTES", "MOST_ROWS", "Row", "Table", "read_table"]
