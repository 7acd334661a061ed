"""What a phone says of itself, and how what was put aside was settled.

Revision ID: 0003
Revises: 0002
"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    op.add_column("device", sa.Column("app_version", sa.String(length=24), nullable=True))
    op.add_column("device", sa.Column("clock_error_s", sa.Float(), nullable=True))
    op.add_column("aside", sa.Column("settled_how", sa.String(length=16), nullable=True))


def downgrade() -> None:
    raise NotImplementedError("what was settled is not forgotten; restore a copy from before")
