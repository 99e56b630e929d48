"""Keep connectors, fuses, people, seasons, lines, files, notes, work orders, faults and bench tests."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "people",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("role", sa.String(length=80), nullable=False),
        sa.Column("contact", sa.String(length=200), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_people")),
        sa.UniqueConstraint("name", name=op.f("uq_people_name")),
    )
    op.create_table(
        "seasons",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("until_on", sa.Date(), nullable=False),
        sa.Column("note", sa.String(length=400), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("from_on < until_on", name=op.f("ck_seasons_window_forwards")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_seasons")),
        sa.UniqueConstraint("name", name=op.f("uq_seasons_name")),
    )
    op.create_table(
        "attachments",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("about_key", sa.String(length=80), nullable=False),
        sa.Column("file_name", sa.String(length=200), nullable=False),
        sa.Column("media_type", sa.String(length=80), nullable=False),
        sa.Column("size_bytes", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("taken_on", sa.Date(), nullable=True),
        sa.Column("added_by", sa.String(length=80), nullable=False),
        sa.Column("caption", sa.String(length=400), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("size_bytes > 0", name=op.f("ck_attachments_size_positive")),
        sa.ForeignKeyConstraint(["about_key"], ["tags.key"], name=op.f("fk_attachments_about_key_tags")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_attachments")),
        sa.UniqueConstraint("about_key", "sha256", name=op.f("uq_attachments_about_key_sha256")),
    )
    op.create_table(
        "connectors",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tag", sa.String(length=80), nullable=False),
        sa.Column("tag_key", sa.String(length=80), nullable=False),
        sa.Column("family", sa.String(length=80), nullable=False),
        sa.Column("pins", sa.Integer(), nullable=True),
        sa.Column("a_per_pin", sa.Double(), nullable=True),
        sa.Column("gender", sa.String(length=24), nullable=False),
        sa.Column("mates_with", sa.String(length=120), nullable=False),
        sa.Column("note", sa.String(length=400), nullable=False),
        sa.Column("retired_on", sa.Date(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("a_per_pin > 0", name=op.f("ck_connectors_pin_positive")),
        sa.CheckConstraint("pins >= 1", name=op.f("ck_connectors_has_pins")),
        sa.ForeignKeyConstraint(["tag_key"], ["tags.key"], name=op.f("fk_connectors_tag_key_tags")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_connectors")),
        sa.UniqueConstraint("tag_key", name=op.f("uq_connectors_tag_key")),
    )
    op.create_table(
        "notes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=40), nullable=True),
        sa.Column("about_key", sa.String(length=80), nullable=False),
        sa.Column("text", sa.String(length=2000), nullable=False),
        sa.Column("written_by", sa.String(length=80), nullable=False),
        sa.Column("written_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("done_on", sa.Date(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["about_key"], ["tags.key"], name=op.f("fk_notes_about_key_tags")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_notes")),
        sa.UniqueConstraint("number", name=op.f("uq_notes_number")),
    )
    with op.batch_alter_table("notes", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_notes_about_key"), ["about_key"], unique=False)

    op.create_table(
        "attachment_bodies",
        sa.Column("attachment_id", sa.Integer(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["attachment_id"], ["attachments.id"], name=op.f("fk_attachment_bodies_attachment_id_attachments")
        ),
        sa.PrimaryKeyConstraint("attachment_id", name=op.f("pk_attachment_bodies")),
    )
    op.create_table(
        "control_lines",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("production_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "wired",
                "stream",
                "wireless",
                "local",
                name="kind",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=False,
        ),
        sa.Column("universe", sa.Integer(), nullable=True),
        sa.Column("unit_load_limit", sa.Double(), nullable=False),
        sa.Column("starts_at_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.String(length=400), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("unit_load_limit > 0", name=op.f("ck_control_lines_limit_positive")),
        sa.CheckConstraint("universe BETWEEN 1 AND 63999", name=op.f("ck_control_lines_universe_range")),
        sa.ForeignKeyConstraint(
            ["production_id"], ["productions.id"], name=op.f("fk_control_lines_production_id_productions")
        ),
        sa.ForeignKeyConstraint(
            ["starts_at_id"], ["places.id"], name=op.f("fk_control_lines_starts_at_id_places")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_control_lines")),
        sa.UniqueConstraint("production_id", "name", name=op.f("uq_control_lines_production_id_name")),
    )
    with op.batch_alter_table("control_lines", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_control_lines_starts_at_id"), ["starts_at_id"], unique=False)

    op.create_table(
        "work_orders",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=40), nullable=True),
        sa.Column("production_id", sa.Integer(), nullable=True),
        sa.Column("about_key", sa.String(length=80), nullable=True),
        sa.Column("what", sa.String(length=400), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("asked_on", sa.Date(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("done_on", sa.Date(), nullable=True),
        sa.Column("done_by", sa.String(length=80), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("asked_on <= done_on", name=op.f("ck_work_orders_asked_before_done")),
        sa.CheckConstraint("asked_on <= due_on", name=op.f("ck_work_orders_asked_before_due")),
        sa.ForeignKeyConstraint(["about_key"], ["tags.key"], name=op.f("fk_work_orders_about_key_tags")),
        sa.ForeignKeyConstraint(["person_id"], ["people.id"], name=op.f("fk_work_orders_person_id_people")),
        sa.ForeignKeyConstraint(
            ["production_id"], ["productions.id"], name=op.f("fk_work_orders_production_id_productions")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_work_orders")),
        sa.UniqueConstraint("number", name=op.f("uq_work_orders_number")),
    )
    with op.batch_alter_table("work_orders", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_work_orders_about_key"), ["about_key"], unique=False)
        batch_op.create_index(batch_op.f("ix_work_orders_person_id"), ["person_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_work_orders_production_id"), ["production_id"], unique=False)

    op.create_table(
        "bench_tests",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=40), nullable=True),
        sa.Column("element_id", sa.Integer(), nullable=True),
        sa.Column("unit_id", sa.Integer(), nullable=True),
        sa.Column("tape_id", sa.Integer(), nullable=True),
        sa.Column("tested_on", sa.Date(), nullable=False),
        sa.Column("tested_by", sa.String(length=80), nullable=False),
        sa.Column("hours_at_full", sa.Double(), nullable=True),
        sa.Column("measured_w_per_m", sa.Double(), nullable=True),
        sa.Column("measured_w", sa.Double(), nullable=True),
        sa.Column("measured_v", sa.Double(), nullable=True),
        sa.Column("passed", sa.Boolean(), nullable=False),
        sa.Column("note", sa.String(length=400), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(
            "(element_id IS NULL) != (unit_id IS NULL)", name=op.f("ck_bench_tests_about_one_thing")
        ),
        sa.CheckConstraint("hours_at_full >= 0", name=op.f("ck_bench_tests_hours_not_negative")),
        sa.CheckConstraint("measured_v >= 0", name=op.f("ck_bench_tests_volts_not_negative")),
        sa.CheckConstraint("measured_w >= 0", name=op.f("ck_bench_tests_watts_not_negative")),
        sa.CheckConstraint("measured_w_per_m > 0", name=op.f("ck_bench_tests_watts_a_metre_positive")),
        sa.CheckConstraint(
            "measured_w_per_m IS NULL OR (element_id IS NOT NULL AND tape_id IS NOT NULL)",
            name=op.f("ck_bench_tests_watts_a_metre_of_tape"),
        ),
        sa.ForeignKeyConstraint(
            ["element_id"], ["elements.id"], name=op.f("fk_bench_tests_element_id_elements")
        ),
        sa.ForeignKeyConstraint(["unit_id"], ["units.id"], name=op.f("fk_bench_tests_unit_id_units")),
        sa.ForeignKeyConstraint(["tape_id"], ["tapes.id"], name=op.f("fk_bench_tests_tape_id_tapes")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench_tests")),
        sa.UniqueConstraint("number", name=op.f("uq_bench_tests_number")),
    )
    with op.batch_alter_table("bench_tests", schema=None) as batch_op:
        batch_op.create_index(
            "ix_bench_tests_element_id_tested_on", ["element_id", "tested_on"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_bench_tests_tape_id"), ["tape_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_bench_tests_unit_id"), ["unit_id"], unique=False)

    op.create_table(
        "faults",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=40), nullable=True),
        sa.Column("element_id", sa.Integer(), nullable=True),
        sa.Column("unit_id", sa.Integer(), nullable=True),
        sa.Column("found_on", sa.Date(), nullable=False),
        sa.Column("found_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("found_by", sa.String(length=80), nullable=False),
        sa.Column("symptom", sa.String(length=400), nullable=False),
        sa.Column("made_dark", sa.Boolean(), nullable=False),
        sa.Column("cause", sa.String(length=400), nullable=False),
        sa.Column("fix", sa.String(length=400), nullable=False),
        sa.Column("swapped_for_id", sa.Integer(), nullable=True),
        sa.Column("minutes_dark", sa.Integer(), nullable=True),
        sa.Column("mended_on", sa.Date(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(
            "(element_id IS NULL) != (unit_id IS NULL)", name=op.f("ck_faults_about_one_thing")
        ),
        sa.CheckConstraint("found_on <= mended_on", name=op.f("ck_faults_found_before_mended")),
        sa.CheckConstraint("minutes_dark >= 0", name=op.f("ck_faults_minutes_not_negative")),
        sa.ForeignKeyConstraint(["element_id"], ["elements.id"], name=op.f("fk_faults_element_id_elements")),
        sa.ForeignKeyConstraint(
            ["swapped_for_id"], ["units.id"], name=op.f("fk_faults_swapped_for_id_units")
        ),
        sa.ForeignKeyConstraint(["unit_id"], ["units.id"], name=op.f("fk_faults_unit_id_units")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_faults")),
        sa.UniqueConstraint("number", name=op.f("uq_faults_number")),
    )
    with op.batch_alter_table("faults", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_faults_element_id"), ["element_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_faults_mended_on"), ["mended_on"], unique=False)
        batch_op.create_index(batch_op.f("ix_faults_swapped_for_id"), ["swapped_for_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_faults_unit_id"), ["unit_id"], unique=False)

    op.create_table(
        "fuses",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=40), nullable=True),
        sa.Column("rating_a", sa.Double(), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("unit_id", sa.Integer(), nullable=True),
        sa.Column("output", sa.Integer(), nullable=True),
        sa.Column("run_id", sa.Integer(), nullable=True),
        sa.Column("fitted_on", sa.Date(), nullable=True),
        sa.Column("note", sa.String(length=400), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("(unit_id IS NULL) != (run_id IS NULL)", name=op.f("ck_fuses_in_one_place")),
        sa.CheckConstraint("output >= 1", name=op.f("ck_fuses_output_from_one")),
        sa.CheckConstraint("output IS NULL OR unit_id IS NOT NULL", name=op.f("ck_fuses_output_of_a_unit")),
        sa.CheckConstraint("rating_a > 0", name=op.f("ck_fuses_rating_positive")),
        sa.ForeignKeyConstraint(["run_id"], ["runs.id"], name=op.f("fk_fuses_run_id_runs")),
        sa.ForeignKeyConstraint(["unit_id"], ["units.id"], name=op.f("fk_fuses_unit_id_units")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fuses")),
        sa.UniqueConstraint("number", name=op.f("uq_fuses_number")),
    )
    with op.batch_alter_table("fuses", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_fuses_run_id"), ["run_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_fuses_unit_id"), ["unit_id"], unique=False)

    with op.batch_alter_table("decoder_models", schema=None) as batch_op:
        batch_op.add_column(sa.Column("unit_loads", sa.Double(), nullable=False, server_default="1"))
        batch_op.add_column(sa.Column("control_connector_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("output_connector_id", sa.Integer(), nullable=True))
        batch_op.create_foreign_key(
            batch_op.f("fk_decoder_models_control_connector_id_connectors"),
            "connectors",
            ["control_connector_id"],
            ["id"],
        )
        batch_op.create_foreign_key(
            batch_op.f("fk_decoder_models_output_connector_id_connectors"),
            "connectors",
            ["output_connector_id"],
            ["id"],
        )
        batch_op.create_check_constraint(
            batch_op.f("ck_decoder_models_unit_loads_positive"), "unit_loads > 0"
        )
    with op.batch_alter_table("decoder_models", schema=None) as batch_op:
        batch_op.alter_column(
            "unit_loads", server_default=None, existing_type=sa.Double(), existing_nullable=False
        )

    with op.batch_alter_table("elements", schema=None) as batch_op:
        batch_op.add_column(
            sa.Column("status_note", sa.String(length=400), nullable=False, server_default="")
        )
    with op.batch_alter_table("elements", schema=None) as batch_op:
        batch_op.alter_column(
            "status_note", server_default=None, existing_type=sa.String(length=400), existing_nullable=False
        )

    with op.batch_alter_table("placings", schema=None) as batch_op:
        batch_op.add_column(sa.Column("line_id", sa.Integer(), nullable=True))
        batch_op.create_index(batch_op.f("ix_placings_line_id"), ["line_id"], unique=False)
        batch_op.create_foreign_key(
            batch_op.f("fk_placings_line_id_control_lines"), "control_lines", ["line_id"], ["id"]
        )

    with op.batch_alter_table("productions", schema=None) as batch_op:
        batch_op.add_column(sa.Column("season_id", sa.Integer(), nullable=True))
        batch_op.create_index(batch_op.f("ix_productions_season_id"), ["season_id"], unique=False)
        batch_op.create_foreign_key(
            batch_op.f("fk_productions_season_id_seasons"), "seasons", ["season_id"], ["id"]
        )

    with op.batch_alter_table("runs", schema=None) as batch_op:
        batch_op.add_column(sa.Column("lead_cores", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("lead_connector_id", sa.Integer(), nullable=True))
        batch_op.create_index(batch_op.f("ix_runs_lead_connector_id"), ["lead_connector_id"], unique=False)
        batch_op.create_foreign_key(
            batch_op.f("fk_runs_lead_connector_id_connectors"), "connectors", ["lead_connector_id"], ["id"]
        )
        batch_op.create_check_constraint(batch_op.f("ck_runs_lead_has_cores"), "lead_cores >= 1")

    with op.batch_alter_table("supply_models", schema=None) as batch_op:
        batch_op.add_column(sa.Column("output_connector_id", sa.Integer(), nullable=True))
        batch_op.create_foreign_key(
            batch_op.f("fk_supply_models_output_connector_id_connectors"),
            "connectors",
            ["output_connector_id"],
            ["id"],
        )

    with op.batch_alter_table("tapes", schema=None) as batch_op:
        batch_op.add_column(sa.Column("measured_w_per_m", sa.Double(), nullable=True))
        batch_op.create_check_constraint(batch_op.f("ck_tapes_measured_positive"), "measured_w_per_m > 0")


def downgrade() -> None:
    with op.batch_alter_table("tapes", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_tapes_measured_positive"), type_="check")
        batch_op.drop_column("measured_w_per_m")

    with op.batch_alter_table("supply_models", schema=None) as batch_op:
        batch_op.drop_constraint(
            batch_op.f("fk_supply_models_output_connector_id_connectors"), type_="foreignkey"
        )
        batch_op.drop_column("output_connector_id")

    with op.batch_alter_table("runs", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("fk_runs_lead_connector_id_connectors"), type_="foreignkey")
        batch_op.drop_index(batch_op.f("ix_runs_lead_connector_id"))
        batch_op.drop_constraint(batch_op.f("ck_runs_lead_has_cores"), type_="check")
        batch_op.drop_column("lead_connector_id")
        batch_op.drop_column("lead_cores")

    with op.batch_alter_table("productions", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("fk_productions_season_id_seasons"), type_="foreignkey")
        batch_op.drop_index(batch_op.f("ix_productions_season_id"))
        batch_op.drop_column("season_id")

    with op.batch_alter_table("placings", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("fk_placings_line_id_control_lines"), type_="foreignkey")
        batch_op.drop_index(batch_op.f("ix_placings_line_id"))
        batch_op.drop_column("line_id")

    with op.batch_alter_table("elements", schema=None) as batch_op:
        batch_op.drop_column("status_note")

    with op.batch_alter_table("decoder_models", schema=None) as batch_op:
        batch_op.drop_constraint(
            batch_op.f("fk_decoder_models_output_connector_id_connectors"), type_="foreignkey"
        )
        batch_op.drop_constraint(
            batch_op.f("fk_decoder_models_control_connector_id_connectors"), type_="foreignkey"
        )
        batch_op.drop_constraint(batch_op.f("ck_decoder_models_unit_loads_positive"), type_="check")
        batch_op.drop_column("output_connector_id")
        batch_op.drop_column("control_connector_id")
        batch_op.drop_column("unit_loads")

    with op.batch_alter_table("fuses", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_fuses_unit_id"))
        batch_op.drop_index(batch_op.f("ix_fuses_run_id"))

    op.drop_table("fuses")
    with op.batch_alter_table("faults", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_faults_unit_id"))
        batch_op.drop_index(batch_op.f("ix_faults_swapped_for_id"))
        batch_op.drop_index(batch_op.f("ix_faults_mended_on"))
        batch_op.drop_index(batch_op.f("ix_faults_element_id"))

    op.drop_table("faults")
    with op.batch_alter_table("bench_tests", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_bench_tests_unit_id"))
        batch_op.drop_index(batch_op.f("ix_bench_tests_tape_id"))
        batch_op.drop_index("ix_bench_tests_element_id_tested_on")

    op.drop_table("bench_tests")
    with op.batch_alter_table("work_orders", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_work_orders_production_id"))
        batch_op.drop_index(batch_op.f("ix_work_orders_person_id"))
        batch_op.drop_index(batch_op.f("ix_work_orders_about_key"))

    op.drop_table("work_orders")
    with op.batch_alter_table("control_lines", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_control_lines_starts_at_id"))

    op.drop_table("control_lines")
    op.drop_table("attachment_bodies")
    with op.batch_alter_table("notes", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_notes_about_key"))

    op.drop_table("notes")
    op.drop_table("connectors")
    op.drop_table("attachments")
    op.drop_table("seasons")
    op.drop_table("people")
