"""A count of changes, by which a database older than its logs and records is known."""

from alembic import op

from passband.service.store.released_forms import PROGRESS

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Begin to count at zero."""
    op.execute(PROGRESS)
    op.execute("INSERT INTO progress VALUES (0)")
