"""Times, loads and stream addresses of control lines, against ANSI E1.11 and ANSI E1.31."""

from ipaddress import IPv4Address

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.control.lines import (
    BIT_US,
    BREAK_1990_US,
    MARK_AFTER_BREAK_1990_US,
    SLOT_US,
    break_to_break_us,
    line_carries,
    multicast_address,
    packet_us,
    refresh_hz,
    unit_loads,
)
from service.errors import BadQuantity


def test_x1_a_bit_lasts_4_microseconds_and_a_slot_44() -> None:
    """ANSI E1.11: 250 kbit/s; one start, eight data, two stop bits."""
    assert (BIT_US, SLOT_US) == (4.0, 44.0)


def test_x2_a_full_universe_is_told_44_times_a_second() -> None:
    """ANSI E1.11 (2008) minima: break 92 us, mark 12 us, 513 slots with the start code."""
    assert packet_us(512) == break_to_break_us(512) == 22_676.0
    assert refresh_hz(512) == pytest.approx(44.10, abs=0.005)


def test_x3_twenty_four_slots_take_the_shortest_time_allowed() -> None:
    """ANSI E1.11: 1204 us break to break, 830.6 times a second."""
    assert packet_us(24) == break_to_break_us(24) == 1204.0
    assert refresh_hz(24) == pytest.approx(830.6, abs=0.05)


@pytest.mark.parametrize(("slots", "us"), [(512, 22_668.0), (24, 1196.0)])
def test_x4_the_first_edition_allowed_a_shorter_break(slots: int, us: float) -> None:
    """USITT DMX512 (1990): break 88 us, mark 8 us."""
    assert packet_us(slots, BREAK_1990_US, MARK_AFTER_BREAK_1990_US) == us


@pytest.mark.parametrize(
    ("universe", "address"),
    [(1, "239.255.0.1"), (255, "239.255.0.255"), (256, "239.255.1.0"), (63_999, "239.255.249.255")],
)
def test_x8_each_universe_is_streamed_to_its_own_address(universe: int, address: str) -> None:
    """ANSI E1.31: 239.255.high.low."""
    assert multicast_address(universe) == address


@pytest.mark.parametrize("universe", [-1, 0, 64_000, 65_536])
def test_x7_a_universe_that_is_none_has_no_address(universe: int) -> None:
    """ANSI E1.31: 1 to 63999."""
    with pytest.raises(BadQuantity, match="no universe") as refused:
        multicast_address(universe)
    assert "1 and 63999" in refused.value.mend


@pytest.mark.parametrize("slots", [0, 513])
def test_x9_a_packet_carries_1_to_512_slots(slots: int) -> None:
    """ANSI E1.11."""
    with pytest.raises(BadQuantity, match=f"{slots} slots") as refused:
        packet_us(slots)
    assert "1 and 512" in refused.value.mend


def test_x10_a_line_drives_32_whole_receivers_or_256_of_an_eighth() -> None:
    """EIA-485, adopted by ANSI E1.11: 32 unit loads."""
    assert line_carries(unit_loads({1.0: 32}))
    assert not line_carries(unit_loads({1.0: 33}))
    assert line_carries(unit_loads({0.125: 256}))
    assert not line_carries(unit_loads({0.125: 257}))
    assert unit_loads({1.0: 31, 0.125: 8}) == 32.0


def test_x12_a_short_packet_is_padded() -> None:
    """ANSI E1.11: four slots would take 324 us; 1204 us pass between breaks all the same."""
    assert packet_us(4) == 324.0
    assert break_to_break_us(4) == 1204.0


@pytest.mark.parametrize("load", [0.0, -1.0, 33.0, float("nan"), float("inf")])
def test_a_receiver_without_a_load_is_refused(load: float) -> None:
    with pytest.raises(BadQuantity, match="unit loads"):
        unit_loads({load: 1})


def test_fewer_receivers_than_none_are_refused() -> None:
    with pytest.raises(BadQuantity, match="-1 receivers"):
        unit_loads({1.0: -1})


@pytest.mark.parametrize("us", [87.9, 1e6, float("nan")])
def test_a_break_shorter_than_any_edition_allows_is_refused(us: float) -> None:
    with pytest.raises(BadQuantity, match="break cannot be"):
        packet_us(512, break_us=us)
    with pytest.raises(BadQuantity, match="mark after break"):
        packet_us(512, mark_after_break_us=7.9)


@given(st.integers(1, 63_999), st.integers(1, 63_999))
def test_no_two_universes_share_an_address_and_all_are_multicast(one: int, other: int) -> None:
    assert (multicast_address(one) == multicast_address(other)) is (one == other)
    assert IPv4Address(multicast_address(one)).is_multicast


@given(st.integers(1, 511))
def test_more_slots_are_never_told_more_often(slots: int) -> None:
    assert refresh_hz(slots + 1) <= refresh_hz(slots)
