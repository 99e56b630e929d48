"""From an element to what feeds it, from gear to what it feeds, and a feed moved by hand."""

import csv
import io

import pytest

from tests import builders as build
from tests.api.conftest import Service

pytestmark = pytest.mark.usefixtures("house")


def test_one_question_gives_the_whole_path_of_an_element(service: Service) -> None:
    """2 m of four colours at 4.8 W/m each: 38.4 W, 1.6 A at 24 V; 15 % of 320 W x 0.80."""
    feed = service.get("/elements/sq-1/feed").json()
    (run,) = feed["runs"]
    assert (feed["element"], feed["production"], feed["plan"], feed["load_w"]) == ("SQ-1", "WIN", 1, 38.4)
    assert (run["supply"], run["output"], run["decoder"]) == ("PS-1", 1, "DC-1")
    assert [(s["emitter"], s["universe"], s["slot"]) for s in run["slots"]] == [
        ("red", 1, 1), ("green", 1, 2), ("blue", 1, 3), ("white", 1, 4),
    ]  # fmt: skip
    (source,) = feed["sources"]
    assert (source["outlet"], source["load_w"], source["limit_w"], source["load_pct"]) == (
        "C1",
        38.4,
        256,
        15,
    )


def test_an_element_without_a_feed_is_answered_with_empty_ends(service: Service) -> None:
    with service.store.writing("tests") as session:
        build.an_element(session, tag="SQ-2")
    feed = service.get("/elements/SQ-2/feed")
    assert feed.status_code == 200
    assert [run["supply"] for run in feed.json()["runs"]] == [None]


def test_a_feed_that_has_not_changed_is_not_sent_again(service: Service) -> None:
    tag = service.get("/elements/SQ-1/feed").headers["etag"]
    assert service.get("/elements/SQ-1/feed", if_none_match=tag).status_code == 304
    service.patch("/elements/SQ-1", {"note": "flickers"}, if_match="*")
    assert service.get("/elements/SQ-1/feed", if_none_match=tag).status_code == 200


def test_a_feed_of_which_something_else_is_said_by_now_is_sent_again(service: Service) -> None:
    """Nothing of the feed itself changed: who would move it may still do so."""
    tag = service.get("/elements/SQ-1/feed").headers["etag"]
    assert service.patch("/supply-models/S320", {"rated_w": 300}, if_match="*").status_code == 200
    assert service.get("/elements/SQ-1/feed", if_none_match=tag).status_code == 200
    moved = service.patch("/elements/SQ-1/feed", {"locked": True}, if_match=tag)
    assert moved.status_code == 200, moved.text


@pytest.mark.parametrize(
    "path", ["/supplies/ps-1", "/decoders/dc-1", "/outlets/c1", "/supplies/PS-1/outputs/1"]
)
def test_gear_says_what_it_feeds(service: Service, path: str) -> None:
    (fed,) = service.get(f"{path}/feeds").json()
    assert (fed["element"], fed["run"], fed["load_w"], fed["load_a"]) == ("SQ-1", 1, 38.4, 1.6)
    (row,) = csv.DictReader(io.StringIO(service.get(f"{path}/feeds", accept="text/csv").text))
    assert (row["element"], row["load_w"]) == ("SQ-1", "38.4")


def test_an_output_or_pack_with_nothing_on_it_feeds_nothing(service: Service) -> None:
    with service.store.writing("tests") as session:
        build.a_battery(session, tag="BT-1")
    assert service.get("/supplies/PS-1/outputs/2/feeds").json() == []
    assert service.get("/batteries/BT-1/feeds").json() == []
    assert service.get("/batteries/BT-1/dark").json() == []


@pytest.mark.parametrize("path", ["/supplies/ps-1", "/decoders/DC-1", "/outlets/C1"])
def test_what_goes_dark_is_said_before_anything_is_pulled(service: Service, path: str) -> None:
    (dark,) = service.get(f"{path}/dark").json()
    assert (dark["element"], dark["whole"], dark["load_w"]) == ("SQ-1", True, 38.4)


@pytest.mark.parametrize(
    "path",
    [
        "/elements/NO/feed",
        "/elements/PS-1/feed",
        "/supplies/NO/feeds",
        "/decoders/PS-1/dark",
        "/outlets/NO/feeds",
    ],
)
def test_a_tag_that_is_not_there_or_of_another_kind_is_not_found(service: Service, path: str) -> None:
    answer = service.get(path)
    assert (answer.status_code, answer.json()["code"]) == (404, "not-found")
    assert answer.json()["mend"]


def test_a_feed_is_moved_and_locked_by_hand(service: Service) -> None:
    with service.store.writing("tests") as session:
        build.a_supply(session, tag="PS-2")
    tag = service.get("/elements/SQ-1/feed").headers["etag"]
    moved = service.patch("/elements/SQ-1/feed", {"supply": "ps-2", "locked": True}, if_match=tag)
    assert moved.status_code == 200, moved.text
    assert (moved.json()["runs"][0]["supply"], moved.json()["runs"][0]["is_locked"]) == ("PS-2", True)
    assert isinstance(moved.json()["over"], list)
    assert moved.headers["etag"] == service.get("/elements/SQ-1/feed").headers["etag"] != tag
    again = service.patch("/elements/SQ-1/feed", {"locked": False}, if_match=tag)
    assert (again.status_code, again.json()["code"]) == (412, "stale")
    assert service.patch("/elements/SQ-1/feed", {"locked": False}).status_code == 428


def test_a_move_that_puts_something_over_a_limit_is_refused_with_the_figures(service: Service) -> None:
    """A supply of 40 W may give 32 W for hours (x 0.80, common practice); the window draws 38.4 W."""
    with service.store.writing("tests") as session:
        small = build.a_supply_model(session, tag="S40", rated_w=40.0, caps_a=(1.7,))
        build.a_supply(session, small, tag="PS-9")
    refused = service.patch("/elements/SQ-1/feed", {"supply": "PS-9"}, if_match="*")
    assert (refused.status_code, refused.json()["code"]) == (409, "over-limit")
    worst = refused.json()["findings"][0]
    assert worst["value"] > worst["limit"]
    assert service.get("/elements/SQ-1/feed").json()["runs"][0]["supply"] == "PS-1"
    done = service.patch(
        "/elements/SQ-1/feed",
        {"supply": "PS-9", "despite_limits": "the chief electrician has measured it"},
        if_match="*",
    )
    assert done.json()["runs"][0]["supply"] == "PS-9"
    assert done.json()["over"]
