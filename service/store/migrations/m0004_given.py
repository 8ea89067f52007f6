"""What a user gave is called that, in both tables that keep it."""

from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Give both columns their name; rows stay as they are."""
    for table in ("car_versions", "items"):
        op.execute(f"ALTER TABLE {table} RENAME COLUMN told TO given")
