"""Work that is kept until it is done, the logs it waits with, and the reviews of a pass beside those that stand."""

from alembic import op

from passband.service.store.released_forms import FIFTH

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Make the tables."""
    for statement in FIFTH.values():
        op.execute(statement)
