"""Work that is kept until it is done, the logs it waits with, and the reviews of a pass beside those that stand."""

from alembic import op

from passband.service.store.postgres_form import SECOND

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the tables."""
    for statement in SECOND:
        op.execute(statement)
