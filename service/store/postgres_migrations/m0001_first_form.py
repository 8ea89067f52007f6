"""All that libraries keep, each row with its team and shown to no other; people and teams."""

from alembic import op

from passband.service.store.postgres_form import FIRST

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables, their indexes and their policies as they were first released."""
    for statement in FIRST:
        op.execute(statement)
