"""The database's own refusal to change or delete what was issued, whoever asks and from wherever.

Triggers are made anew after every migration, for SQLite drops them whenever it rebuilds a table. On SQLite only
changes are refused by trigger: deleting is how Django empties a test database there; foreign keys hold most rows.
"""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.db import connections
from django.db.utils import DEFAULT_DB_ALIAS

SQLITE = """
CREATE TRIGGER IF NOT EXISTS {table}_kept BEFORE UPDATE ON {table}
BEGIN SELECT RAISE(ABORT, '{table}: issued rows are never changed'); END
"""

POSTGRES_FUNCTION = """
CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION '%: issued rows are never changed', TG_TABLE_NAME USING ERRCODE = 'check_violation';
END
$$
"""
POSTGRES = """
CREATE OR REPLACE TRIGGER {table}_kept BEFORE UPDATE OR DELETE ON {table}
FOR EACH ROW EXECUTE FUNCTION refuse_change()
"""


def install(sender: AppConfig, using: str = DEFAULT_DB_ALIAS, **_kwargs: Any) -> None:
    """After migrating: guard the tables of every kept model that is there (a half-migrated database has fewer)."""
    from .models import Kept

    connection = connections[using]
    there = connection.introspection.table_names()
    tables = [model._meta.db_table for model in sender.get_models() if issubclass(model, Kept)]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(POSTGRES_FUNCTION)
        statement = POSTGRES if connection.vendor == "postgresql" else SQLITE
        for table in tables:
            if table in there:
                cursor.execute(statement.format(table=table))
