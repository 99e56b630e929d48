"""Slots, universes and free starts. ANSI E1.11 gives the 512 slots, ANSI E1.31 the universe numbers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.control.addresses import (
    Span,
    absolute_of,
    are_mirrors,
    clashes,
    first_fit,
    fits,
    free_start,
    is_universe,
    overlap,
    pixels_in_universe,
    slot_of,
    slots_for,
    universes_for,
)

SLOTS = st.integers(1, 512)
SPANS = st.builds(Span, st.integers(1, 3), SLOTS, st.integers(1, 40)).filter(lambda s: s.end <= 512)


@pytest.mark.parametrize(
    ("absolute", "place"), [(1, (1, 1)), (512, (1, 512)), (513, (2, 1)), (1024, (2, 512))]
)
def test_x5_an_address_counted_straight_through_has_a_universe_and_a_slot(
    absolute: int, place: tuple[int, int]
) -> None:
    """Arithmetic on 512 slots, ANSI E1.11."""
    assert slot_of(absolute) == place
    assert absolute_of(*place) == absolute


@given(st.integers(1, 63999 * 512))
def test_the_two_ways_of_counting_agree(absolute: int) -> None:
    assert absolute_of(*slot_of(absolute)) == absolute


@pytest.mark.parametrize("absolute", [0, -1])
def test_addresses_start_at_one(absolute: int) -> None:
    """ANSI E1.11: slot 0 is the start code."""
    with pytest.raises(ValueError, match="start at 1"):
        slot_of(absolute)


@pytest.mark.parametrize(("universe", "slot"), [(0, 1), (1, 0), (1, 513)])
def test_a_slot_outside_the_universe_has_no_address(universe: int, slot: int) -> None:
    with pytest.raises(ValueError, match="1 to 512"):
        absolute_of(universe, slot)


@pytest.mark.parametrize(("number", "accepted"), [(0, False), (1, True), (63999, True), (64000, False)])
def test_x7_universes_run_from_1_to_63999(number: int, accepted: bool) -> None:
    """ANSI E1.31."""
    assert is_universe(number) is accepted


@pytest.mark.parametrize(
    ("start", "footprint", "accepted"),
    [
        (1, 512, True),
        (1, 513, False),
        (509, 4, True),
        (510, 4, False),
        (512, 1, True),
        (0, 4, False),
        (5, 0, False),
    ],
)
def test_x9_x11_a_footprint_ends_inside_its_universe(start: int, footprint: int, accepted: bool) -> None:
    """ANSI E1.11 and E1.31: 512 slots accepted, 513 refused; a four-slot decoder at 510 is refused."""
    assert fits(start, footprint) is accepted


@pytest.mark.parametrize(("slots_per_pixel", "pixels"), [(3, 170), (4, 128), (1, 512), (8, 64)])
def test_x6_a_universe_holds_whole_pixels(slots_per_pixel: int, pixels: int) -> None:
    """Arithmetic on 512 slots: 3 slots 170 (510 used), 4 slots 128, 1 slot 512, 8 slots 64."""
    assert pixels_in_universe(slots_per_pixel) == pixels
    assert universes_for(pixels, slots_per_pixel) == 1
    assert universes_for(pixels + 1, slots_per_pixel) == 2


def test_sixteen_bit_channels_take_two_slots_each() -> None:
    assert (slots_for(4), slots_for(4, bits=16)) == (4, 8)
    with pytest.raises(ValueError, match="8 or 16"):
        slots_for(4, bits=12)


def test_two_decoders_clash_on_the_slots_they_share() -> None:
    one, other = Span(3, 41, 4), Span(3, 43, 5)

    assert list(overlap(one, other)) == [43, 44]
    assert clashes([other, one]) == [(one, other)]
    assert not overlap(one, Span(4, 43, 5))
    assert not overlap(one, Span(3, 45, 5))


def test_declared_mirrors_may_share_and_only_if_they_are_set_alike() -> None:
    left = Span(1, 10, 4, "DC-01", "steps", "8-bit")

    assert are_mirrors(left, Span(1, 10, 4, "DC-02", "steps", "8-bit"))
    assert clashes([left, Span(1, 10, 4, "DC-02", "steps", "8-bit")]) == []
    for other in (
        Span(1, 11, 4, "DC-02", "steps", "8-bit"),
        Span(1, 10, 4, "DC-02", "steps", "16-bit"),
        Span(1, 10, 4, "DC-02", "", "8-bit"),
    ):
        assert len(clashes([left, other])) == 1


@given(st.lists(SPANS, max_size=12))
def test_every_clash_is_found_once(spans: list[Span]) -> None:
    pairs = [tuple(sorted((a, b))) for i, a in enumerate(spans) for b in spans[:i] if overlap(a, b)]

    assert sorted(clashes(spans)) == sorted(pairs)


def test_the_first_free_start_skips_gaps_that_are_too_small() -> None:
    """1 to 38, 41 to 44 and 51 to 62 are taken: five slots start at 45; seven only after them, at 63."""
    taken = [Span(3, 1, 38), Span(3, 41, 4), Span(3, 51, 12)]

    assert free_start(3, 2, taken) == 39
    assert free_start(3, 5, taken) == 45
    assert free_start(3, 6, taken) == 45
    assert free_start(3, 7, taken) == 63
    assert free_start(3, 5, taken, from_slot=46) == 46
    assert free_start(3, 5, taken, from_slot=47) == 63
    assert free_start(3, 451, taken) is None
    assert free_start(4, 512, taken) == 1


@given(st.lists(SPANS, max_size=30), st.integers(1, 60))
def test_a_free_start_is_free_and_nothing_lower_is(spans: list[Span], footprint: int) -> None:
    start = free_start(1, footprint, spans)
    legal = [
        s for s in range(1, 514 - footprint) if not any(overlap(Span(1, s, footprint), t) for t in spans)
    ]

    assert start == (legal[0] if legal else None)


@given(st.lists(st.integers(1, 200), max_size=25), st.lists(SPANS, max_size=10))
def test_first_fit_never_clashes_and_always_answers_alike(footprints: list[int], spans: list[Span]) -> None:
    places = first_fit(footprints, spans)
    placed = [Span(u, s, f, str(n)) for n, ((u, s), f) in enumerate(zip(places, footprints, strict=True))]

    assert all(fits(s.start, s.footprint) for s in placed)
    assert clashes(placed) == []
    assert not any(overlap(p, t) for p in placed for t in spans)
    assert first_fit(footprints, reversed(spans)) == places


def test_first_fit_starts_where_it_is_told_and_goes_round_what_is_there() -> None:
    assert first_fit([5, 510, 3], [Span(1, 1, 4)]) == [(1, 5), (2, 1), (1, 10)]
    assert first_fit([4], [], from_universe=9) == [(9, 1)]
    with pytest.raises(ValueError, match="universes are 1 to 63999"):
        first_fit([4], [], from_universe=0)
    with pytest.raises(ValueError, match="513 is not"):
        first_fit([513], [])


def test_a_full_house_has_no_room() -> None:
    with pytest.raises(ValueError, match="no universe has room"):
        first_fit([512, 1], [], from_universe=63999)
