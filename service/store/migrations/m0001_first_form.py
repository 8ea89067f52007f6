"""Cars in versions, uploads with their logs, runs with their reviews."""

from alembic import op

from passband.service.store.released_forms import FIRST

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables and indexes as they were first released."""
    for statement in FIRST.values():
        op.execute(statement)
