"""The first shape of the records."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "job",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("what", sa.String(length=40), nullable=False),
        sa.Column("about", sa.JSON(), nullable=False),
        sa.Column("state", sa.String(length=8), nullable=False),
        sa.Column("asked", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended", sa.DateTime(timezone=True), nullable=True),
        sa.Column("trouble", sa.Text(), nullable=False),
        sa.CheckConstraint(
            "state IN ('waiting', 'running', 'done', 'failed')", name=op.f("ck_job_state")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
    )
    op.create_index(op.f("ix_job_state"), "job", ["state"], unique=False)
    op.create_table(
        "singer",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("nickname", sa.String(length=80), nullable=False),
        sa.Column("voice", sa.String(length=8), nullable=False),
        sa.Column("minor", sa.Boolean(), nullable=False),
        sa.Column("added", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("voice IN ('man', 'woman', 'child')", name=op.f("ck_singer_voice")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_singer")),
        sa.UniqueConstraint("nickname", name=op.f("uq_singer_nickname")),
    )
    op.create_table(
        "account",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("login", sa.String(length=80), nullable=False),
        sa.Column("role", sa.String(length=8), nullable=False),
        sa.Column("singer_id", sa.String(length=32), nullable=True),
        sa.Column("secret", sa.Text(), nullable=False),
        sa.Column("made", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("role IN ('teacher', 'singer')", name=op.f("ck_account_role")),
        sa.ForeignKeyConstraint(
            ["singer_id"], ["singer.id"], name=op.f("fk_account_singer_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_account")),
        sa.UniqueConstraint("login", name=op.f("uq_account_login")),
    )
    op.create_table(
        "assignment",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("singer_id", sa.String(length=32), nullable=False),
        sa.Column("hymn", sa.String(length=400), nullable=False),
        sa.Column("due", sa.DateTime(timezone=True), nullable=True),
        sa.Column("given", sa.DateTime(timezone=True), nullable=False),
        sa.Column("done", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["singer_id"], ["singer.id"], name=op.f("fk_assignment_singer_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_assignment")),
    )
    op.create_index(op.f("ix_assignment_singer_id"), "assignment", ["singer_id"], unique=False)
    op.create_table(
        "card",
        sa.Column("singer_id", sa.String(length=32), nullable=False),
        sa.Column("hymn", sa.String(length=400), nullable=False),
        sa.Column("due", sa.DateTime(timezone=True), nullable=False),
        sa.Column("state", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["singer_id"], ["singer.id"], name=op.f("fk_card_singer_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("singer_id", "hymn", name=op.f("pk_card")),
    )
    op.create_index(op.f("ix_card_due"), "card", ["due"], unique=False)
    op.create_table(
        "consent",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("singer_id", sa.String(length=32), nullable=False),
        sa.Column("what", sa.String(length=20), nullable=False),
        sa.Column("given_by", sa.String(length=120), nullable=False),
        sa.Column("as_guardian", sa.Boolean(), nullable=False),
        sa.Column("given", sa.DateTime(timezone=True), nullable=False),
        sa.Column("withdrawn", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["singer_id"], ["singer.id"], name=op.f("fk_consent_singer_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_consent")),
    )
    op.create_index(op.f("ix_consent_singer_id"), "consent", ["singer_id"], unique=False)
    op.create_table(
        "invitation",
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("role", sa.String(length=8), nullable=False),
        sa.Column("singer_id", sa.String(length=32), nullable=True),
        sa.Column("made", sa.DateTime(timezone=True), nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=False),
        sa.Column("used", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["singer_id"], ["singer.id"], name=op.f("fk_invitation_singer_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_invitation")),
    )
    op.create_table(
        "range",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("singer_id", sa.String(length=32), nullable=False),
        sa.Column("low_hz", sa.Float(), nullable=False),
        sa.Column("high_hz", sa.Float(), nullable=False),
        sa.Column("how", sa.String(length=8), nullable=False),
        sa.Column("taken", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("how IN ('typed', 'sung')", name=op.f("ck_range_how")),
        sa.CheckConstraint("low_hz > 0 AND high_hz > low_hz", name=op.f("ck_range_order")),
        sa.ForeignKeyConstraint(
            ["singer_id"], ["singer.id"], name=op.f("fk_range_singer_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_range")),
    )
    op.create_index(op.f("ix_range_singer_id"), "range", ["singer_id"], unique=False)
    op.create_table(
        "recording",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("singer_id", sa.String(length=32), nullable=False),
        sa.Column("hymn", sa.String(length=400), nullable=False),
        sa.Column("file", sa.String(length=80), nullable=False),
        sa.Column("made", sa.DateTime(timezone=True), nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=False),
        sa.Column("shared", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["singer_id"], ["singer.id"], name=op.f("fk_recording_singer_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recording")),
        sa.UniqueConstraint("file", name=op.f("uq_recording_file")),
    )
    op.create_index(op.f("ix_recording_singer_id"), "recording", ["singer_id"], unique=False)
    op.create_index(op.f("ix_recording_until"), "recording", ["until"], unique=False)
    op.create_table(
        "result",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("singer_id", sa.String(length=32), nullable=False),
        sa.Column("hymn", sa.String(length=400), nullable=False),
        sa.Column("sung", sa.DateTime(timezone=True), nullable=False),
        sa.Column("source", sa.String(length=12), nullable=False),
        sa.Column("notes", sa.Integer(), nullable=False),
        sa.Column("wrong", sa.Integer(), nullable=False),
        sa.Column("skipped", sa.Integer(), nullable=False),
        sa.Column("off_moria", sa.Float(), nullable=True),
        sa.Column("drift_moria", sa.Float(), nullable=True),
        sa.Column("detail", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["singer_id"], ["singer.id"], name=op.f("fk_result_singer_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_result")),
    )
    op.create_index("ix_result_singer_hymn", "result", ["singer_id", "hymn"], unique=False)
    op.create_table(
        "session",
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("account_id", sa.String(length=32), nullable=False),
        sa.Column("made", sa.DateTime(timezone=True), nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["account_id"], ["account.id"], name=op.f("fk_session_account_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_session")),
    )
    op.create_index(op.f("ix_session_account_id"), "session", ["account_id"], unique=False)


def downgrade() -> None:
    """Drop the tables."""
    op.drop_index(op.f("ix_session_account_id"), table_name="session")
    op.drop_table("session")
    op.drop_index("ix_result_singer_hymn", table_name="result")
    op.drop_table("result")
    op.drop_index(op.f("ix_recording_until"), table_name="recording")
    op.drop_index(op.f("ix_recording_singer_id"), table_name="recording")
    op.drop_table("recording")
    op.drop_index(op.f("ix_range_singer_id"), table_name="range")
    op.drop_table("range")
    op.drop_table("invitation")
    op.drop_index(op.f("ix_consent_singer_id"), table_name="consent")
    op.drop_table("consent")
    op.drop_index(op.f("ix_card_due"), table_name="card")
    op.drop_table("card")
    op.drop_index(op.f("ix_assignment_singer_id"), table_name="assignment")
    op.drop_table("assignment")
    op.drop_table("account")
    op.drop_table("singer")
    op.drop_index(op.f("ix_job_state"), table_name="job")
    op.drop_table("job")
