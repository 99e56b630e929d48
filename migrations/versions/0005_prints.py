"""Keep what was printed, so that changes since a print can be told."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "prints",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("production_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("paper", sa.String(length=80), nullable=False),
        sa.Column("as_of", sa.Date(), nullable=False),
        sa.Column("plan", sa.Integer(), nullable=True),
        sa.Column("printed_by", sa.String(length=80), nullable=False),
        sa.Column("printed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["production_id"], ["productions.id"], name=op.f("fk_prints_production_id_productions")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_prints")),
        sa.UniqueConstraint("production_id", "number", name=op.f("uq_prints_production_id_number")),
    )


def downgrade() -> None:
    op.drop_table("prints")
