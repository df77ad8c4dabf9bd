"""Keep which rows an action added, so that it can be taken back."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the two tables; of what was stored before, no additions are known."""
    op.create_table(
        "additions",
        sa.Column("addition", sa.Integer(), nullable=False),
        sa.Column("table", sa.Text(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("column", sa.Text()),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("addition", name="pk_additions"),
    )
    op.create_table(
        "undone",
        sa.Column("import", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("import", name="pk_undone"),
    )
