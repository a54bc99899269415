"""What several processes share: attempts, and who works on what; and who leads a given hymn."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add a table and columns."""
    op.create_table(
        "attempt",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("made", sa.DateTime(timezone=True), nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_attempt")),
    )
    op.create_index(op.f("ix_attempt_digest"), "attempt", ["digest"], unique=False)
    op.create_index(op.f("ix_attempt_until"), "attempt", ["until"], unique=False)
    with op.batch_alter_table("assignment") as table:
        table.add_column(
            sa.Column("leads", sa.Boolean(), nullable=False, server_default=sa.false())
        )
    with op.batch_alter_table("job") as table:
        table.add_column(
            sa.Column("holder", sa.String(length=32), nullable=False, server_default="")
        )
        table.add_column(sa.Column("alive", sa.DateTime(timezone=True), nullable=True))


def downgrade() -> None:
    """Take them away."""
    with op.batch_alter_table("job") as table:
        table.drop_column("alive")
        table.drop_column("holder")
    with op.batch_alter_table("assignment") as table:
        table.drop_column("leads")
    op.drop_index(op.f("ix_attempt_until"), table_name="attempt")
    op.drop_index(op.f("ix_attempt_digest"), table_name="attempt")
    op.drop_table("attempt")
