"""Runs the migrations on the connection it is given; see service/store/schema.py."""

from typing import Any, Literal

from alembic import context

from service.store.types import UtcDateTime
from service.tables import METADATA


def render(kind: str, thing: Any, _autogenerate: Any) -> str | Literal[False]:
    """Migrations hold plain column types, so that they keep their meaning when the program changes."""
    return "sa.DateTime(timezone=True)" if kind == "type" and isinstance(thing, UtcDateTime) else False


context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    render_as_batch=True,
    render_item=render,
    transactional_ddl=True,
    transaction_per_migration=False,
    compare_type=True,
    compare_server_default=True,
)
context.run_migrations()
