"""Keep why a feed was put over a limit by hand."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("allotments", schema=None) as batch_op:
        batch_op.add_column(sa.Column("override_reason", sa.String(length=200), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("allotments", schema=None) as batch_op:
        batch_op.drop_column("override_reason")
