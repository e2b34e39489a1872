"""Triggers that give a part another stamp whenever a row changes that says what it takes of places and hands.

With them the season can be kept between two questions and only the parts read again that changed, whoever changed
them and from wherever. They are made anew after every migration, for SQLite drops them when it rebuilds a table.
"""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.db import connections
from django.db.utils import DEFAULT_DB_ALIAS

TABLES = {  # of rows that belong to a part, and the column that says to which
    "production_part": "id",
    "production_stay": "part_id",
    "production_work": "part_id",
    "production_allocation": "part_id",
}
STAMPS = "production_partstamp"

# SQLite rolls its counters back with the transaction; a random number comes only once.
SQLITE_SET = """
CREATE TRIGGER IF NOT EXISTS {table}_{event}_stamped AFTER {event} ON {table}
BEGIN
  INSERT INTO {stamps} (part_id, stamp) VALUES (NEW.{column}, random())
  ON CONFLICT (part_id) DO UPDATE SET stamp = excluded.stamp;
END
"""
SQLITE_GONE = """
CREATE TRIGGER IF NOT EXISTS {table}_delete_stamped AFTER DELETE ON {table}
BEGIN UPDATE {stamps} SET stamp = random() WHERE part_id = OLD.{column}; END
"""
SQLITE_PART_GONE = """
CREATE TRIGGER IF NOT EXISTS {table}_delete_stamped AFTER DELETE ON {table}
BEGIN DELETE FROM {stamps} WHERE part_id = OLD.{column}; END
"""
SQLITE_MISSING = "INSERT OR IGNORE INTO {stamps} (part_id, stamp) SELECT id, random() FROM production_part"

POSTGRES_SEQUENCE = "CREATE SEQUENCE IF NOT EXISTS part_stamps"  # a sequence is never rolled back
POSTGRES_FUNCTION = """
CREATE OR REPLACE FUNCTION stamp_{table}() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP <> 'DELETE' THEN
    INSERT INTO {stamps} (part_id, stamp) VALUES (NEW.{column}, nextval('part_stamps'))
    ON CONFLICT (part_id) DO UPDATE SET stamp = excluded.stamp;
  ELSIF TG_TABLE_NAME = 'production_part' THEN
    DELETE FROM {stamps} WHERE part_id = OLD.{column};
  ELSE
    UPDATE {stamps} SET stamp = nextval('part_stamps') WHERE part_id = OLD.{column};
  END IF;
  RETURN NULL;
END
$$
"""
POSTGRES_TRIGGER = """
CREATE OR REPLACE TRIGGER {table}_stamped AFTER INSERT OR UPDATE OR DELETE ON {table}
FOR EACH ROW EXECUTE FUNCTION stamp_{table}()
"""
POSTGRES_MISSING = """
INSERT INTO {stamps} (part_id, stamp) SELECT id, nextval('part_stamps') FROM production_part ON CONFLICT DO NOTHING
"""


def install(sender: AppConfig, using: str = DEFAULT_DB_ALIAS, **_kwargs: Any) -> None:
    """After migrating: make the triggers, and stamp the parts that have none; unless a table is still missing."""
    connection = connections[using]
    if not {STAMPS, *TABLES} <= set(connection.introspection.table_names()):
        return
    with connection.cursor() as cursor:
        for statement in _postgres() if connection.vendor == "postgresql" else _sqlite():
            cursor.execute(statement)


def _sqlite() -> list[str]:
    made = []
    for table, column in TABLES.items():
        gone = SQLITE_PART_GONE if table == "production_part" else SQLITE_GONE
        names = {"table": table, "column": column, "stamps": STAMPS}
        made += [SQLITE_SET.format(event=event, **names) for event in ("insert", "update")]
        made.append(gone.format(**names))
    return [*made, SQLITE_MISSING.format(stamps=STAMPS)]


def _postgres() -> list[str]:
    made = [POSTGRES_SEQUENCE]
    for table, column in TABLES.items():
        names = {"table": table, "column": column, "stamps": STAMPS}
        made += [POSTGRES_FUNCTION.format(**names), POSTGRES_TRIGGER.format(**names)]
    return [*made, POSTGRES_MISSING.format(stamps=STAMPS)]
