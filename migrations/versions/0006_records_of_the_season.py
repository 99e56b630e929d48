"""Keep cut plans, stocktakes, deliveries, joints, swaps, and what is issued, hired and sold in packs."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


KINDS = ("opening", "received", "piece", "offcut", "scrap", "returned", "recount")


def _allow_kinds_of_cuts(*kinds: str) -> None:
    said = ", ".join(f"'{kind}'" for kind in kinds)
    with op.batch_alter_table("cuts", schema=None) as batch_op:
        batch_op.drop_constraint("kind", type_="check")
        batch_op.create_check_constraint(batch_op.f("ck_cuts_kind"), f"kind IN ({said})")


def upgrade() -> None:
    op.create_table(
        "cut_plans",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=40), nullable=True),
        sa.Column(
            "status",
            sa.Enum(
                "draft",
                "kept",
                "done",
                "superseded",
                "abandoned",
                name="status",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=False,
        ),
        sa.Column("as_of", sa.Date(), nullable=False),
        sa.Column("made_by", sa.String(length=80), nullable=False),
        sa.Column("keep_um", sa.Integer(), nullable=False),
        sa.Column("fingerprint", sa.String(length=64), nullable=False),
        sa.Column("found", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("seconds", sa.Double(), nullable=True),
        sa.Column("is_proven", sa.Boolean(), nullable=False),
        sa.Column("stopped_early", sa.Boolean(), nullable=False),
        sa.Column("supersedes_id", sa.Integer(), nullable=True),
        sa.Column("kept_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("note", sa.String(length=400), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["supersedes_id"], ["cut_plans.id"], name=op.f("fk_cut_plans_supersedes_id_cut_plans")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cut_plans")),
        sa.UniqueConstraint("number", name=op.f("uq_cut_plans_number")),
    )
    with op.batch_alter_table("cut_plans", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_cut_plans_status"), ["status"], unique=False)
        batch_op.create_index(batch_op.f("ix_cut_plans_supersedes_id"), ["supersedes_id"], unique=False)

    op.create_table(
        "cut_plan_shows",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("cut_plan_id", sa.Integer(), nullable=False),
        sa.Column("production_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["cut_plan_id"], ["cut_plans.id"], name=op.f("fk_cut_plan_shows_cut_plan_id_cut_plans")
        ),
        sa.ForeignKeyConstraint(
            ["production_id"], ["productions.id"], name=op.f("fk_cut_plan_shows_production_id_productions")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cut_plan_shows")),
        sa.UniqueConstraint(
            "cut_plan_id", "production_id", name=op.f("uq_cut_plan_shows_cut_plan_id_production_id")
        ),
    )
    with op.batch_alter_table("cut_plan_shows", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_cut_plan_shows_production_id"), ["production_id"], unique=False)

    op.create_table(
        "stocktakes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=40), nullable=True),
        sa.Column("place_id", sa.Integer(), nullable=False),
        sa.Column(
            "status",
            sa.Enum(
                "open",
                "closed",
                "abandoned",
                name="status",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=False,
        ),
        sa.Column("counted_on", sa.Date(), nullable=False),
        sa.Column("begun_by", sa.String(length=80), nullable=False),
        sa.Column("begun_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("closed_by", sa.String(length=80), nullable=False),
        sa.Column("closed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("note", sa.String(length=400), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["place_id"], ["places.id"], name=op.f("fk_stocktakes_place_id_places")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stocktakes")),
        sa.UniqueConstraint("number", name=op.f("uq_stocktakes_number")),
    )
    with op.batch_alter_table("stocktakes", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stocktakes_place_id"), ["place_id"], unique=False)
        batch_op.create_index(
            "uq_stocktakes_one_open",
            ["place_id"],
            unique=True,
            sqlite_where=sa.text("status = 'open'"),
            postgresql_where=sa.text("status = 'open'"),
        )

    op.create_table(
        "deliveries",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=40), nullable=False),
        sa.Column("line_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("received_on", sa.Date(), nullable=False),
        sa.Column("received_by", sa.String(length=80), nullable=False),
        sa.Column("lot", sa.String(length=40), nullable=False),
        sa.Column("note", sa.String(length=400), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_deliveries_quantity_positive")),
        sa.ForeignKeyConstraint(
            ["line_id"], ["order_lines.id"], name=op.f("fk_deliveries_line_id_order_lines")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_deliveries")),
        sa.UniqueConstraint("number", "line_id", name=op.f("uq_deliveries_number_line_id")),
    )
    with op.batch_alter_table("deliveries", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_deliveries_line_id"), ["line_id"], unique=False)

    op.create_table(
        "stocktake_lines",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("stocktake_id", sa.Integer(), nullable=False),
        sa.Column("thing_key", sa.String(length=80), nullable=False),
        sa.Column("is_expected", sa.Boolean(), nullable=False),
        sa.Column("book_version", sa.Integer(), nullable=False),
        sa.Column("book_state", sa.String(length=24), nullable=False),
        sa.Column("book_pitches", sa.Integer(), nullable=True),
        sa.Column("is_found", sa.Boolean(), nullable=True),
        sa.Column("found_state", sa.String(length=24), nullable=False),
        sa.Column("found_pitches", sa.Integer(), nullable=True),
        sa.Column("counted_by", sa.String(length=80), nullable=False),
        sa.Column("counted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column(
            "outcome",
            sa.Enum(
                "to count",
                "agrees",
                "differs",
                "accepted",
                "to look for",
                name="outcome",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=False,
        ),
        sa.Column("note", sa.String(length=400), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("book_pitches >= 0", name=op.f("ck_stocktake_lines_book_not_negative")),
        sa.CheckConstraint("found_pitches >= 0", name=op.f("ck_stocktake_lines_found_not_negative")),
        sa.ForeignKeyConstraint(
            ["stocktake_id"], ["stocktakes.id"], name=op.f("fk_stocktake_lines_stocktake_id_stocktakes")
        ),
        sa.ForeignKeyConstraint(["thing_key"], ["tags.key"], name=op.f("fk_stocktake_lines_thing_key_tags")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stocktake_lines")),
        sa.UniqueConstraint(
            "stocktake_id", "thing_key", name=op.f("uq_stocktake_lines_stocktake_id_thing_key")
        ),
    )
    with op.batch_alter_table("stocktake_lines", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stocktake_lines_thing_key"), ["thing_key"], unique=False)

    op.create_table(
        "reel_joins",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("reel_id", sa.Integer(), nullable=False),
        sa.Column("from_hub_pitches", sa.Integer(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum("factory", "made", name="kind", native_enum=False, create_constraint=True, length=24),
            nullable=False,
        ),
        sa.Column("note", sa.String(length=400), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("from_hub_pitches >= 1", name=op.f("ck_reel_joins_inside_the_reel")),
        sa.ForeignKeyConstraint(["reel_id"], ["reels.id"], name=op.f("fk_reel_joins_reel_id_reels")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reel_joins")),
        sa.UniqueConstraint(
            "reel_id", "from_hub_pitches", name=op.f("uq_reel_joins_reel_id_from_hub_pitches")
        ),
    )
    op.create_table(
        "cut_steps",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("cut_plan_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("tape_id", sa.Integer(), nullable=False),
        sa.Column("reel_id", sa.Integer(), nullable=True),
        sa.Column("new_reel", sa.String(length=40), nullable=True),
        sa.Column("piece_id", sa.Integer(), nullable=True),
        sa.Column("part", sa.String(length=1), nullable=False),
        sa.Column("pitches", sa.Integer(), nullable=False),
        sa.Column("cut_id", sa.Integer(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(
            "(reel_id IS NULL) != (new_reel IS NULL)", name=op.f("ck_cut_steps_a_reel_or_a_new_one")
        ),
        sa.CheckConstraint("pitches > 0", name=op.f("ck_cut_steps_pitches_positive")),
        sa.ForeignKeyConstraint(["cut_id"], ["cuts.id"], name=op.f("fk_cut_steps_cut_id_cuts")),
        sa.ForeignKeyConstraint(
            ["cut_plan_id"], ["cut_plans.id"], name=op.f("fk_cut_steps_cut_plan_id_cut_plans")
        ),
        sa.ForeignKeyConstraint(["piece_id"], ["pieces.id"], name=op.f("fk_cut_steps_piece_id_pieces")),
        sa.ForeignKeyConstraint(["reel_id"], ["reels.id"], name=op.f("fk_cut_steps_reel_id_reels")),
        sa.ForeignKeyConstraint(["tape_id"], ["tapes.id"], name=op.f("fk_cut_steps_tape_id_tapes")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cut_steps")),
        sa.UniqueConstraint("cut_plan_id", "position", name=op.f("uq_cut_steps_cut_plan_id_position")),
    )
    with op.batch_alter_table("cut_steps", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_cut_steps_cut_id"), ["cut_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_cut_steps_piece_id"), ["piece_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_cut_steps_reel_id"), ["reel_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_cut_steps_tape_id"), ["tape_id"], unique=False)

    op.create_table(
        "swaps",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=40), nullable=True),
        sa.Column("production_id", sa.Integer(), nullable=False),
        sa.Column("plan_id", sa.Integer(), nullable=False),
        sa.Column("old_id", sa.Integer(), nullable=False),
        sa.Column("new_id", sa.Integer(), nullable=False),
        sa.Column("fault_id", sa.Integer(), nullable=True),
        sa.Column("note_id", sa.Integer(), nullable=True),
        sa.Column("swapped_on", sa.Date(), nullable=False),
        sa.Column("swapped_by", sa.String(length=80), nullable=False),
        sa.Column("why", sa.String(length=400), nullable=False),
        sa.Column("before", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("undone_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("undone_by", sa.String(length=80), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("old_id != new_id", name=op.f("ck_swaps_two_units")),
        sa.ForeignKeyConstraint(["fault_id"], ["faults.id"], name=op.f("fk_swaps_fault_id_faults")),
        sa.ForeignKeyConstraint(["new_id"], ["units.id"], name=op.f("fk_swaps_new_id_units")),
        sa.ForeignKeyConstraint(["note_id"], ["notes.id"], name=op.f("fk_swaps_note_id_notes")),
        sa.ForeignKeyConstraint(["old_id"], ["units.id"], name=op.f("fk_swaps_old_id_units")),
        sa.ForeignKeyConstraint(["plan_id"], ["plans.id"], name=op.f("fk_swaps_plan_id_plans")),
        sa.ForeignKeyConstraint(
            ["production_id"], ["productions.id"], name=op.f("fk_swaps_production_id_productions")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_swaps")),
        sa.UniqueConstraint("number", name=op.f("uq_swaps_number")),
    )
    with op.batch_alter_table("swaps", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_swaps_fault_id"), ["fault_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_swaps_new_id"), ["new_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_swaps_note_id"), ["note_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_swaps_old_id"), ["old_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_swaps_plan_id"), ["plan_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_swaps_production_id"), ["production_id"], unique=False)

    with op.batch_alter_table("gear_models", schema=None) as batch_op:
        batch_op.add_column(sa.Column("pack_quantity", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("least_quantity", sa.Integer(), nullable=True))
        batch_op.add_column(
            sa.Column("hire_price_per_week", sa.Numeric(precision=10, scale=2), nullable=True)
        )
        batch_op.add_column(sa.Column("hire_lead_days", sa.Integer(), nullable=True))
        batch_op.create_check_constraint(batch_op.f("ck_gear_models_pack_positive"), "pack_quantity >= 1")
        batch_op.create_check_constraint(batch_op.f("ck_gear_models_least_positive"), "least_quantity >= 1")
        batch_op.create_check_constraint(
            batch_op.f("ck_gear_models_hire_price_not_negative"), "hire_price_per_week >= 0"
        )

    with op.batch_alter_table("holds", schema=None) as batch_op:
        batch_op.add_column(sa.Column("issued_on", sa.Date(), nullable=True))
        batch_op.add_column(sa.Column("issued_by", sa.String(length=80), nullable=False, server_default=""))
        batch_op.add_column(sa.Column("returned_by", sa.String(length=80), nullable=False, server_default=""))
        batch_op.add_column(sa.Column("drawn_from_id", sa.Integer(), nullable=True))
        batch_op.create_index(batch_op.f("ix_holds_drawn_from_id"), ["drawn_from_id"], unique=False)
        batch_op.create_foreign_key(
            batch_op.f("fk_holds_drawn_from_id_holds"), "holds", ["drawn_from_id"], ["id"]
        )
        batch_op.create_check_constraint(
            batch_op.f("ck_holds_a_unit_is_drawn"), "drawn_from_id IS NULL OR unit_id IS NOT NULL"
        )
    with op.batch_alter_table("holds", schema=None) as batch_op:
        for name in ("issued_by", "returned_by"):
            batch_op.alter_column(
                name, server_default=None, existing_type=sa.String(length=80), existing_nullable=False
            )

    with op.batch_alter_table("order_lines", schema=None) as batch_op:
        batch_op.add_column(sa.Column("received_quantity", sa.Integer(), nullable=False, server_default="0"))
        batch_op.add_column(sa.Column("is_hire", sa.Boolean(), nullable=False, server_default=sa.false()))
        batch_op.add_column(sa.Column("hire_from", sa.Date(), nullable=True))
        batch_op.add_column(sa.Column("hire_until", sa.Date(), nullable=True))
        batch_op.create_check_constraint(
            batch_op.f("ck_order_lines_received_of_it"),
            "received_quantity >= 0 AND received_quantity <= quantity",
        )
        batch_op.create_check_constraint(batch_op.f("ck_order_lines_hire_forwards"), "hire_from < hire_until")
    with op.batch_alter_table("order_lines", schema=None) as batch_op:
        batch_op.alter_column(
            "received_quantity", server_default=None, existing_type=sa.Integer(), existing_nullable=False
        )
        batch_op.alter_column(
            "is_hire", server_default=None, existing_type=sa.Boolean(), existing_nullable=False
        )
    op.execute("UPDATE order_lines SET received_quantity = quantity WHERE received_on IS NOT NULL")

    with op.batch_alter_table("productions", schema=None) as batch_op:
        batch_op.add_column(sa.Column("recovered_share", sa.Double(), nullable=True))
        batch_op.create_check_constraint(
            batch_op.f("ck_productions_recovered_is_a_share"), "recovered_share >= 0 AND recovered_share <= 1"
        )

    with op.batch_alter_table("reels", schema=None) as batch_op:
        batch_op.add_column(sa.Column("delivery_id", sa.Integer(), nullable=True))
        batch_op.create_index(batch_op.f("ix_reels_delivery_id"), ["delivery_id"], unique=False)
        batch_op.create_foreign_key(
            batch_op.f("fk_reels_delivery_id_deliveries"), "deliveries", ["delivery_id"], ["id"]
        )

    with op.batch_alter_table("tapes", schema=None) as batch_op:
        batch_op.add_column(sa.Column("pack_quantity", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("least_quantity", sa.Integer(), nullable=True))
        batch_op.create_check_constraint(batch_op.f("ck_tapes_pack_positive"), "pack_quantity >= 1")
        batch_op.create_check_constraint(batch_op.f("ck_tapes_least_positive"), "least_quantity >= 1")

    with op.batch_alter_table("units", schema=None) as batch_op:
        batch_op.add_column(sa.Column("seen_place_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("seen_on", sa.Date(), nullable=True))
        batch_op.add_column(sa.Column("hired_from", sa.Date(), nullable=True))
        batch_op.add_column(sa.Column("hired_until", sa.Date(), nullable=True))
        batch_op.add_column(sa.Column("delivery_id", sa.Integer(), nullable=True))
        batch_op.create_index(batch_op.f("ix_units_delivery_id"), ["delivery_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_units_seen_place_id"), ["seen_place_id"], unique=False)
        batch_op.create_foreign_key(
            batch_op.f("fk_units_seen_place_id_places"), "places", ["seen_place_id"], ["id"]
        )
        batch_op.create_foreign_key(
            batch_op.f("fk_units_delivery_id_deliveries"), "deliveries", ["delivery_id"], ["id"]
        )
        batch_op.create_check_constraint(batch_op.f("ck_units_hire_forwards"), "hired_from < hired_until")

    _allow_kinds_of_cuts(*KINDS, "joined")


def downgrade() -> None:
    op.execute("UPDATE cuts SET kind = 'recount' WHERE kind = 'joined'")
    _allow_kinds_of_cuts(*KINDS)

    with op.batch_alter_table("units", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_units_hire_forwards"), type_="check")
        batch_op.drop_constraint(batch_op.f("fk_units_delivery_id_deliveries"), type_="foreignkey")
        batch_op.drop_constraint(batch_op.f("fk_units_seen_place_id_places"), type_="foreignkey")
        batch_op.drop_index(batch_op.f("ix_units_seen_place_id"))
        batch_op.drop_index(batch_op.f("ix_units_delivery_id"))
        batch_op.drop_column("delivery_id")
        batch_op.drop_column("hired_until")
        batch_op.drop_column("hired_from")
        batch_op.drop_column("seen_on")
        batch_op.drop_column("seen_place_id")

    with op.batch_alter_table("tapes", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_tapes_pack_positive"), type_="check")
        batch_op.drop_constraint(batch_op.f("ck_tapes_least_positive"), type_="check")
        batch_op.drop_column("least_quantity")
        batch_op.drop_column("pack_quantity")

    with op.batch_alter_table("reels", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("fk_reels_delivery_id_deliveries"), type_="foreignkey")
        batch_op.drop_index(batch_op.f("ix_reels_delivery_id"))
        batch_op.drop_column("delivery_id")

    with op.batch_alter_table("productions", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_productions_recovered_is_a_share"), type_="check")
        batch_op.drop_column("recovered_share")

    with op.batch_alter_table("order_lines", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_order_lines_received_of_it"), type_="check")
        batch_op.drop_constraint(batch_op.f("ck_order_lines_hire_forwards"), type_="check")
        batch_op.drop_column("hire_until")
        batch_op.drop_column("hire_from")
        batch_op.drop_column("is_hire")
        batch_op.drop_column("received_quantity")

    with op.batch_alter_table("holds", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_holds_a_unit_is_drawn"), type_="check")
        batch_op.drop_constraint(batch_op.f("fk_holds_drawn_from_id_holds"), type_="foreignkey")
        batch_op.drop_index(batch_op.f("ix_holds_drawn_from_id"))
        batch_op.drop_column("drawn_from_id")
        batch_op.drop_column("returned_by")
        batch_op.drop_column("issued_by")
        batch_op.drop_column("issued_on")

    with op.batch_alter_table("gear_models", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_gear_models_pack_positive"), type_="check")
        batch_op.drop_constraint(batch_op.f("ck_gear_models_least_positive"), type_="check")
        batch_op.drop_constraint(batch_op.f("ck_gear_models_hire_price_not_negative"), type_="check")
        batch_op.drop_column("hire_lead_days")
        batch_op.drop_column("hire_price_per_week")
        batch_op.drop_column("least_quantity")
        batch_op.drop_column("pack_quantity")

    with op.batch_alter_table("swaps", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_swaps_production_id"))
        batch_op.drop_index(batch_op.f("ix_swaps_plan_id"))
        batch_op.drop_index(batch_op.f("ix_swaps_old_id"))
        batch_op.drop_index(batch_op.f("ix_swaps_note_id"))
        batch_op.drop_index(batch_op.f("ix_swaps_new_id"))
        batch_op.drop_index(batch_op.f("ix_swaps_fault_id"))

    op.drop_table("swaps")
    with op.batch_alter_table("cut_steps", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_cut_steps_tape_id"))
        batch_op.drop_index(batch_op.f("ix_cut_steps_reel_id"))
        batch_op.drop_index(batch_op.f("ix_cut_steps_piece_id"))
        batch_op.drop_index(batch_op.f("ix_cut_steps_cut_id"))

    op.drop_table("cut_steps")
    op.drop_table("reel_joins")
    with op.batch_alter_table("stocktake_lines", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stocktake_lines_thing_key"))

    op.drop_table("stocktake_lines")
    with op.batch_alter_table("deliveries", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_deliveries_line_id"))

    op.drop_table("deliveries")
    with op.batch_alter_table("stocktakes", schema=None) as batch_op:
        batch_op.drop_index(
            "uq_stocktakes_one_open",
            sqlite_where=sa.text("status = 'open'"),
            postgresql_where=sa.text("status = 'open'"),
        )
        batch_op.drop_index(batch_op.f("ix_stocktakes_place_id"))

    op.drop_table("stocktakes")
    with op.batch_alter_table("cut_plan_shows", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_cut_plan_shows_production_id"))

    op.drop_table("cut_plan_shows")
    with op.batch_alter_table("cut_plans", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_cut_plans_supersedes_id"))
        batch_op.drop_index(batch_op.f("ix_cut_plans_status"))

    op.drop_table("cut_plans")
