"""Lists walked to their end, single things, reports, and what feeds what."""

import csv
import io
from datetime import date

import pytest

from service.client import Wattwright
from service.errors import BadRequest, NotFound
from service.planning.records import PlanStatus
from tests import builders as build
from tests.api.conftest import Service
from tests.client.proxy import Line


def test_a_list_is_walked_over_all_its_pages_as_far_as_it_is_read(
    service: Service, line: Line, over_the_line: Wattwright
) -> None:
    """Five places, two a page: three pages, of which the third is asked for only when it is wanted."""
    with service.store.writing("tests") as session:
        tags = [build.a_place(session, tag=f"BIN-{n}").tag for n in range(5)]
    rows = over_the_line.list("places", limit=2)
    assert [next(rows)["tag"] for _ in range(3)] == tags[:3]
    assert len(line.seen) == 2
    assert [row["tag"] for row in rows] == tags[3:]
    assert len(line.seen) == 3


def test_a_list_is_narrowed_by_its_filters_on_every_page(service: Service, wattwright: Wattwright) -> None:
    with service.store.writing("tests") as session:
        model, other = build.a_supply_model(session, tag="S320"), build.a_supply_model(session, tag="S150")
        for n in range(3):
            build.a_supply(session, model, tag=f"PS-{n}")
            build.a_supply(session, other, tag=f"PX-{n}")
    found = [row["tag"] for row in wattwright.list("supplies", model="S150", limit=1)]
    assert found == ["PX-0", "PX-1", "PX-2"]
    assert len(list(wattwright.list("supplies", model=None))) == 6


def test_a_filter_nobody_knows_is_refused_by_name(wattwright: Wattwright) -> None:
    with pytest.raises(BadRequest, match="colour is not a parameter") as refused:
        list(wattwright.list("supplies", colour="red"))
    assert refused.value.errors[0].column == "colour"  # type: ignore[attr-defined]


@pytest.mark.usefixtures("house")
def test_one_thing_is_read_with_its_etag_by_its_tag_in_any_case(wattwright: Wattwright) -> None:
    row, etag = wattwright.get("elements", "sq-1")
    assert (row["tag"], row["name"], etag) == ("SQ-1", "upper window", '"1"')


@pytest.mark.parametrize("tag", ["no/such", "50% off", "a?b#c", "..", "Žárovka"])
def test_a_tag_of_any_letters_is_asked_for_as_it_is(wattwright: Wattwright, tag: str) -> None:
    """Nothing in a tag is taken for a part of the address; nobody has it, and the refusal says so."""
    with pytest.raises(NotFound):
        wattwright.get("elements", tag)


@pytest.mark.usefixtures("house")
def test_the_history_of_a_thing_says_who_changed_what(wattwright: Wattwright) -> None:
    wattwright.change("elements", "SQ-1", {"name": "attic"})
    last = list(wattwright.history("elements", "SQ-1"))[-1]
    assert (last["by"], last["before"], last["after"]) == (
        "night crew", {"name": "upper window"}, {"name": "attic"},
    )  # fmt: skip


@pytest.mark.usefixtures("house")
def test_the_loads_are_rows_and_the_same_rows_are_csv(wattwright: Wattwright) -> None:
    """2 m of 19.2 W/m on a supply that may give 320 W x 0.80 = 256 W for hours (common practice)."""
    (row,) = wattwright.report("loads", production="win", as_of=date(2026, 12, 1))
    assert (row["supply"], row["supply_w"], row["limit_w"], row["elements"]) == (
        "PS-1",
        38.4,
        256.0,
        ["SQ-1"],
    )
    (read,) = csv.DictReader(io.StringIO(wattwright.report_csv("loads", production="win")))
    assert list(read) == list(row)
    assert (read["supply"], read["supply_w"], read["elements"]) == ("PS-1", "38.4", "SQ-1")


@pytest.mark.usefixtures("house")
def test_a_report_takes_what_the_service_lets_it_be_asked(wattwright: Wattwright) -> None:
    """Everything asked for, what is in order stands in it too."""
    assert "ok" not in {row["verdict"] for row in wattwright.report("over-limit")}
    assert "ok" in {row["verdict"] for row in wattwright.report("over-limit", everything=True)}
    with pytest.raises(NotFound):
        wattwright.report("none")


@pytest.mark.usefixtures("house")
def test_an_element_is_followed_to_the_wall(wattwright: Wattwright) -> None:
    feed = wattwright.feed("sq-1")
    assert (feed["element"], feed["runs"][0]["supply"], feed["sources"][0]["outlet"]) == (
        "SQ-1",
        "PS-1",
        "C1",
    )


@pytest.mark.usefixtures("house")
@pytest.mark.parametrize("tag", ["PS-1", "dc-1", "C1"])
def test_what_goes_dark_is_asked_by_the_tag_alone(wattwright: Wattwright, tag: str) -> None:
    (row,) = wattwright.dark(tag)
    assert (row["element"], row["whole"], row["load_w"]) == ("SQ-1", True, 38.4)


@pytest.mark.usefixtures("house")
def test_what_nothing_hangs_on_is_refused(wattwright: Wattwright) -> None:
    with pytest.raises(NotFound, match="SQ-1: it is on the list of elements"):
        wattwright.dark("sq-1")
    with pytest.raises(NotFound, match="nothing has the tag ZZ-9"):
        wattwright.dark("ZZ-9")


def test_anything_else_can_be_asked_by_its_address(service: Service, house: build.House) -> None:
    with service.store.writing("tests") as session:
        build.a_plan(session, house.production, number=2, status=PlanStatus.DRAFT)
    with Wattwright(service.base + "/") as client:
        plan = client.ask("get", "/productions/WIN/plans/2").json()
        assert (plan["number"], plan["status"]) == (2, "draft")
        assert client.ask("GET", "/api/v1").json()["as_of"] == "2026-11-25"
        assert client.ask("GET", "/l/sq-1").json()["tag"] == "SQ-1"
