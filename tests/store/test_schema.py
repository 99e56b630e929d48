"""Migrations: up, down and up again with rows, no drift, and no use of a newer database."""

import pytest
from alembic import command
from sqlalchemy import CheckConstraint, inspect, select, text

from service.errors import WrongVersion
from service.planning.records import Allotment
from service.shows.records import Element, Run
from service.stock.gear import DecoderModel
from service.stock.records import Place, PlaceKind
from service.store import schema
from service.store.work import Store
from service.tables import METADATA
from tests.builders import a_house
from tests.shows.upkeep import a_bench_test, a_control_line, an_attachment


@pytest.fixture
def lived_in(store: Store) -> Store:
    with store.writing("crew") as session:
        session.add(Place(tag="A1", name="bin", kind=PlaceKind.BIN))
    return store


def test_the_records_and_the_migrations_say_the_same(store: Store) -> None:
    with store.engine.execution_options(begin="none").connect() as connection:
        command.check(schema._config(connection))


def test_upgrading_twice_changes_nothing(lived_in: Store) -> None:
    assert schema.upgrade(lived_in.engine) == (schema.newest(), schema.newest())
    with lived_in.reading() as session:
        assert session.scalars(select(Place.tag)).all() == ["A1"]


def test_down_to_nothing_and_up_again_works_with_rows_in(lived_in: Store) -> None:
    schema.move(lived_in.engine, "base", downwards=True)
    assert set(inspect(lived_in.engine).get_table_names()) == {"alembic_version"}
    assert schema.upgrade(lived_in.engine) == (None, schema.newest())


def test_a_newer_database_is_refused_and_left_alone(lived_in: Store) -> None:
    with lived_in.writing("crew") as session:
        session.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    for refuse in (schema.upgrade, schema.check):
        with pytest.raises(WrongVersion, match=r"9999.*newer"):
            refuse(lived_in.engine)
    with lived_in.reading() as session:
        assert session.scalars(select(Place.tag)).all() == ["A1"]


def test_an_empty_database_is_refused_with_the_command_that_mends_it(store: Store) -> None:
    schema.move(store.engine, "base", downwards=True)
    with pytest.raises(WrongVersion) as refusal:
        schema.check(store.engine)
    assert refusal.value.mend == "Run: wattwright db upgrade"


def test_tables_of_another_program_are_left_alone(store: Store) -> None:
    schema.move(store.engine, "base", downwards=True)
    with store.writing("crew") as session:
        session.execute(text("CREATE TABLE recipes (id INTEGER PRIMARY KEY)"))
    with pytest.raises(WrongVersion, match="another program"):
        schema.upgrade(store.engine)


def test_models_and_elements_come_up_with_what_they_were_taken_to_be(store: Store) -> None:
    """One unit load a decoder (ANSI E1.11); an element with nothing said about where it stands."""
    with store.writing("crew") as session:
        house = a_house(session)
        a_control_line(session, house.production)
        a_bench_test(session, house.element, measured_w_per_m=19.8)
        an_attachment(session, "SQ-1")
    schema.move(store.engine, "0002", downwards=True)
    gone = {"control_lines", "bench_tests", "attachments", "attachment_bodies", "faults", "fuses"}
    assert not gone & set(inspect(store.engine).get_table_names())

    assert schema.upgrade(store.engine) == ("0002", schema.newest())
    with store.reading() as session:
        assert session.scalars(select(DecoderModel.unit_loads)).all() == [1.0]
        assert session.scalars(select(Element.status_note)).all() == [""]
        assert session.scalars(select(Allotment.channels)).all() == [4]
    assert gone <= set(inspect(store.engine).get_table_names())


def test_every_rule_of_a_column_outlives_the_migrations(store: Store) -> None:
    """A table that is rebuilt around a new column must not lose what it refused before."""
    said = {
        (table.name, str(rule.name))
        for table in METADATA.sorted_tables
        for rule in table.constraints
        if isinstance(rule, CheckConstraint)
    }
    look = inspect(store.engine)
    kept = {
        (name, str(rule["name"]))
        for name in look.get_table_names()
        for rule in look.get_check_constraints(name)
    }
    assert kept == said
    assert len(said) > 60


def test_rows_of_the_revision_before_come_up_unharmed(store: Store) -> None:
    """A kept feed, its runs and its plan stand through a table that is rebuilt around them."""
    with store.writing("crew") as session:
        house = a_house(session)
        plan, tag = house.plan.id, house.element.tag
    schema.move(store.engine, "0001", downwards=True)

    assert schema.upgrade(store.engine) == ("0001", schema.newest())
    with store.reading() as session:
        [allotment] = session.scalars(select(Allotment).where(Allotment.plan_id == plan))
        assert (allotment.override_reason, allotment.channels) == (None, 4)
        assert session.scalars(select(Element.tag)).all() == [tag]
        assert len(session.scalars(select(Run)).all()) == 1
