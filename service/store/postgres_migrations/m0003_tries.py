"""What is throttled, counted for all services together."""

from alembic import op

from passband.service.store.postgres_form import THIRD

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the table."""
    for statement in THIRD:
        op.execute(statement)
