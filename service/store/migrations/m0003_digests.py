"""Runs in few numbers apart from what a list shows of them; parts of a car, and groups of runs."""

from alembic import op

from passband.service.store.released_forms import THIRD

revision = "0003"
down_revision = "0002"

TOLD = "CAST(summary AS TEXT)"


def upgrade() -> None:
    """Make both tables; digests that lie in the rows of runs are let go, and made anew where they are asked for."""
    for statement in THIRD.values():
        op.execute(statement)
    op.execute(
        f"UPDATE runs SET summary = CAST(json_remove({TOLD}, '$.digest') AS BLOB)"
        f" WHERE instr({TOLD}, '\"digest\"') > 0 AND json_valid({TOLD})"
    )
