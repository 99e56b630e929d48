"""Two photos of a show side by side: pure, on runs drawn by hand."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from service.planning.since.differing import changes, relabels
from service.planning.since.photo import Photo, RunThen

ONE = RunThen(
    "SQ-17", 1, "Mirror frame", "SL-DR", "TW24", 3300.0, 63.36, "PS-01", 1, "DC-21", "1-2", 3, 29,
    "SL-DR", "MD2", "", "SL-DR", 256.0,
)  # fmt: skip
TWO = replace(
    ONE, element="SQ-22", name="Throne back", load_w=247.68, decoder="DC-04", channels="1-4", start=25
)


def of(*runs: RunThen) -> Photo:
    return {run.tag: run for run in runs}


def test_a_feed_that_moves_is_told_with_the_loads_it_shifts() -> None:
    """PS-01: 311.04 W of 256.00 W before, 247.68 W after the mirror goes to PS-03."""
    moved = replace(ONE, supply="PS-03", supply_place="SL-DR")
    found = [(c.what, c.about, c.before, c.after) for c in changes(of(ONE, TWO), of(moved, TWO))]
    assert found == [
        ("moved", "SQ-17/1", "PS-01 output 1, DC-21 channel 1-2", "PS-03 output 1, DC-21 channel 1-2"),
        ("load", "PS-01", "311.04 W (121.5 %)", "247.68 W (96.8 %)"),
        ("load", "PS-03", "", "63.36 W (24.8 %)"),
    ]


def test_an_address_that_moves_alone_is_told_and_the_lead_is_labelled_anew() -> None:
    moved = replace(ONE, start=41)
    assert [(c.what, c.before, c.after) for c in changes(of(ONE), of(moved))] == [("address", "3/29", "3/41")]
    (label,) = relabels(of(ONE), of(moved))
    assert (label.before, label.after) == ("PS-01·1  DC-21·1-2  3/29", "PS-01·1  DC-21·1-2  3/41")


def test_a_lead_that_must_be_longer_or_thicker_is_told() -> None:
    drawn = replace(ONE, lead_mm=5000.0, lead_gauge="18 AWG", lead_cores=3)
    leads = [
        (replace(drawn, lead_mm=7500.0), "7500 mm of 18 AWG × 3"),
        (replace(drawn, lead_gauge="16 AWG"), "5000 mm of 16 AWG × 3"),
        (replace(drawn, leads=2), "2 leads, each 5000 mm of 18 AWG × 3"),
        (replace(drawn, lead_mm=None, lead_gauge="", lead_cores=None), ""),
    ]
    for now, told in leads:
        (change,) = changes(of(drawn), of(now))
        assert (change.what, change.before, change.after) == ("lead", "5000 mm of 18 AWG × 3", told)
    assert changes(of(drawn), of(drawn)) == []


def test_what_is_new_what_is_gone_and_what_goes_dark() -> None:
    dark = replace(ONE, supply="", output=0, decoder="", channels="", universe=None, limit_w=None)
    assert [c.what for c in changes(of(ONE), of(dark))] == ["dark", "load"]
    assert [c.what for c in changes(of(dark), of(ONE))] == ["fed", "load"]
    assert [c.what for c in changes(of(), of(ONE))] == ["added", "load"]
    assert [c.what for c in changes(of(ONE), of())] == ["gone", "load"]
    assert [label.after for label in relabels(of(ONE), of())] == [""]


def test_gear_that_stands_or_is_plugged_in_elsewhere_is_told_once() -> None:
    there = replace(ONE, outlet="SD2"), replace(TWO, outlet="SD2")
    (change,) = changes(of(ONE, TWO), of(*there))
    assert (change.what, change.about, change.before, change.after) == (
        "stands", "PS-01", "SL-DR, on MD2", "SL-DR, on SD2",
    )  # fmt: skip


RUNS = st.builds(
    lambda n, supply, start: replace(ONE, run=n, supply=supply, start=start),
    st.integers(1, 4), st.sampled_from(["", "PS-01", "PS-03"]), st.integers(1, 3),
)  # fmt: skip
PHOTOS = st.lists(RUNS, max_size=4).map(lambda runs: of(*runs))


@given(PHOTOS, PHOTOS)
def test_nothing_differs_exactly_where_the_photos_are_the_same(one: Photo, two: Photo) -> None:
    assert (changes(one, two) == []) == (one == two)
    there = {(c.what, c.about, c.before, c.after) for c in changes(one, two) if c.what == "load"}
    back = {(c.what, c.about, c.after, c.before) for c in changes(two, one) if c.what == "load"}
    assert there == back
