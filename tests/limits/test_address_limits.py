"""Addresses: 512 slots (ANSI E1.11), universes 1 to 63999 (ANSI E1.31), mirrors, whole pixels."""

from dataclasses import replace

import pytest

from service.limits.facts import LineFacts, PatchFacts, ShowFacts
from service.limits.findings import Harm, Verdict
from tests.limits.builders import (
    NEUTRAL,
    PIXEL_12,
    RGBW,
    a_decoder,
    a_feed,
    a_show,
    a_supply,
    an_element,
    found,
    mend_of,
    the,
)


def _patched(*patches: PatchFacts) -> ShowFacts:
    return a_show(patches=patches)


def _universe_3() -> ShowFacts:
    """1 to 38 taken by four- and five-slot decoders, DC-13 at 41, DC-23 at 43, DC-32 at 51."""
    starts = [(f"DC-{n:02}", 1 + 4 * n, 4) for n in range(7)] + [("DC-21", 29, 5), ("DC-22", 34, 5)]
    starts += [("DC-13", 41, 4), ("DC-23", 43, 5), ("DC-32", 51, 12)]
    return _patched(*(PatchFacts(tag, None, 3, start, slots) for tag, start, slots in starts))


def test_two_decoders_on_the_same_slots_are_told_once_with_the_first_legal_start() -> None:
    """41-44 and 43-47 share 43 and 44; 45-49 is free once DC-23 has moved; after the rest comes 63."""
    over = [f for f in found(_universe_3(), "address-overlap") if f.verdict is Verdict.OVER]

    assert [f.subject for f in over] == ["DC-23"]
    assert over[0].message == "DC-13 41-44 and DC-23 43-47 overlap at 43, 44 in universe 3"
    assert over[0].value == 2.0
    assert mend_of(over[0])[0] == (
        "start DC-23 at 45: slots 45-49 of universe 3 are free for it; the next place after that is 63"
    )


def test_neighbours_that_touch_do_not_overlap() -> None:
    show = _patched(PatchFacts("DC-01", None, 1, 1, 4), PatchFacts("DC-02", None, 1, 5, 4))

    assert [f.verdict for f in found(show, "address-overlap")] == [Verdict.OK] * 2


@pytest.mark.parametrize(
    ("change", "verdict"),
    [
        ({}, Verdict.OK),
        ({"start": 11}, Verdict.OVER),
        ({"mode": "16-bit"}, Verdict.OVER),
        ({"mirror": "other"}, Verdict.OVER),
        ({"universe": 2}, Verdict.OK),
    ],
)
def test_mirrors_share_slots_only_when_they_are_set_alike(
    change: dict[str, object], verdict: Verdict
) -> None:
    one = PatchFacts("DC-01", None, 1, 10, 4, mirror="steps")
    other = replace(one, decoder="DC-02", **change)  # type: ignore[arg-type]
    worst = [f.verdict for f in found(_patched(one, other), "address-overlap")]

    assert (Verdict.OVER in worst) is (verdict is Verdict.OVER)


def test_mirrors_set_differently_are_told_what_mirrors_must_share() -> None:
    one = PatchFacts("DC-01", None, 1, 10, 4, mirror="steps")
    show = _patched(one, replace(one, decoder="DC-02", start=11))

    assert "as mirrors (steps) they must have the same start" in the(show, "address-overlap", "DC-02").message
    assert "mirrors" not in the(_universe_3(), "address-overlap", "DC-23").message


def test_a_port_past_the_end_of_its_universe_starts_where_there_is_room() -> None:
    """301-540 is past 512; 1-240 is taken, so 241-480."""
    show = _patched(
        PatchFacts("DC-52", 1, 7, 1, 240, "pixel", pixels=80),
        PatchFacts("DC-52", 2, 7, 301, 240, "pixel", pixels=80),
    )
    finding = the(show, "universe", "DC-52 port 2")

    assert (finding.verdict, finding.harm, finding.value, finding.limit) == (
        Verdict.OVER,
        Harm.DARK,
        540.0,
        512.0,
    )
    assert mend_of(finding) == (
        "start DC-52 port 2 at 241: slots 241-480 of universe 7 are free for it",
        480.0,
        512.0,
    )
    assert the(show, "universe", "DC-52 port 1").verdict is Verdict.OK


def test_a_sixteen_bit_decoder_at_509_goes_to_9() -> None:
    """Eight slots at 509 end at 516; DC-12 has 1-8."""
    show = _patched(
        PatchFacts("DC-12", None, 6, 1, 8, "16-bit"), PatchFacts("DC-14", None, 6, 509, 8, "16-bit")
    )

    assert the(show, "universe", "DC-14").value == 516.0
    assert mend_of(the(show, "universe", "DC-14"))[0].startswith("start DC-14 at 9: slots 9-16 of universe 6")


def test_a_full_universe_sends_it_to_the_next() -> None:
    show = _patched(PatchFacts("DC-01", None, 6, 1, 510), PatchFacts("DC-02", None, 6, 510, 4))

    assert "start DC-02 at 1: slots 1-4 of universe 7" in mend_of(the(show, "universe", "DC-02"))[0]


@pytest.mark.parametrize(
    ("universe", "start", "footprint", "verdict"),
    [
        (1, 509, 4, Verdict.OK),
        (1, 510, 4, Verdict.OVER),
        (1, 1, 512, Verdict.OK),
        (1, 1, 513, Verdict.OVER),
        (1, 0, 4, Verdict.OVER),
        (0, 1, 4, Verdict.OVER),
        (63999, 1, 4, Verdict.OK),
        (64000, 1, 4, Verdict.OVER),
    ],
)
def test_slots_and_universes_have_their_ends(
    universe: int, start: int, footprint: int, verdict: Verdict
) -> None:
    """ANSI E1.11: 512 slots from 1; ANSI E1.31: universes 1 to 63999."""
    assert the(_patched(PatchFacts("DC-01", None, universe, start, footprint)), "universe").verdict is verdict


def test_a_decoder_in_use_without_an_address_cannot_be_checked() -> None:
    elements = [
        an_element(f"A-{n}", NEUTRAL, 1.0, a_feed("PS-01", tag, 1, 1))
        for n, tag in enumerate(("DC-01", "DC-02", "DC-03", "DC-04"))
    ]
    decoders = [a_decoder(f"DC-0{n}") for n in (1, 2, 3, 5)] + [a_decoder("DC-04", link="local")]
    patches = (PatchFacts("DC-01", None, 1, 1, 4), PatchFacts("DC-02", None, 1, None, 4))
    show = a_show(*elements, supplies=[a_supply("PS-01")], decoders=decoders, patches=patches)

    assert {f.subject: f.verdict for f in found(show, "address-known")} == {
        "DC-01": Verdict.OK,
        "DC-02": Verdict.UNKNOWN,
        "DC-03": Verdict.UNKNOWN,
    }
    assert [f.subject for f in found(show, "universe")] == ["DC-01"]


def test_a_port_is_known_by_its_number_or_by_its_first_channel() -> None:
    elements = [
        an_element("A", PIXEL_12, 1.0, a_feed("PS-51", "DC-51", 1, 1, port=1)),
        an_element("B", PIXEL_12, 1.0, a_feed("PS-51", "DC-51", 2, 1)),
    ]
    driver = a_decoder("DC-51", 4, signal="pixel")
    patches = (PatchFacts("DC-51", 1, 5, 1, 60, "pixel"), PatchFacts("DC-51", 2, 5, 61, 60, "pixel"))
    show = a_show(*elements, supplies=[a_supply("PS-51", class_v=12.0)], decoders=[driver], patches=patches)

    assert [(f.subject, f.verdict) for f in found(show, "address-known")] == [
        ("DC-51 port 1", Verdict.OK),
        ("DC-51 port 2", Verdict.OK),
    ]
    assert [f.value for f in found(show, "pixels")] == [20.0, 20.0]


def _roses(metres: float, footprint: int | None, **tape: object) -> ShowFacts:
    its = replace(PIXEL_12, **tape)  # type: ignore[arg-type]
    element = an_element("SQ-24", its, [metres, metres], [a_feed("PS-51", "DC-51", 1, 1, port=1)] * 2)
    driver = a_decoder("DC-51", 4, None, None, min_v=5.0, signal="pixel", model="DP4")
    return a_show(
        element,
        supplies=[a_supply("PS-51", 150.0, (12.5,), class_v=12.0)],
        decoders=[driver],
        patches=(PatchFacts("DC-51", 1, 5, 1, footprint, "pixel"),),
    )


@pytest.mark.parametrize(
    ("metres", "footprint", "verdict"),
    [
        (2.0, 240, Verdict.OK),
        (2.0, 243, Verdict.OK),
        (2.0, 237, Verdict.OVER),
        (2.0, 241, Verdict.OVER),
        (4.25, 510, Verdict.OK),
        (4.5, 510, Verdict.OVER),
    ],
)
def test_a_port_has_whole_pixels_as_many_as_its_tape(metres: float, footprint: int, verdict: Verdict) -> None:
    """20 pixels a metre, 3 slots each: 4 m are 80 pixels, 240 slots; a universe holds 170 (arithmetic)."""
    assert the(_roses(metres, footprint), "pixels").verdict is verdict


def test_more_pixels_than_a_universe_are_divided_over_ports() -> None:
    assert "170 pixels and 10" in mend_of(the(_roses(4.5, 512), "pixels"))[0]


def test_pixels_that_nobody_counted_cannot_be_checked_and_level_tape_has_none() -> None:
    assert the(_roses(2.0, 240, pixels_per_m=None), "pixels").verdict is Verdict.UNKNOWN
    level = a_show(
        an_element("A", RGBW, feed=a_feed("PS-01", "DC-01")),
        supplies=[a_supply("PS-01")],
        decoders=[a_decoder("DC-01")],
        patches=(PatchFacts("DC-01", None, 1, 1, 4),),
    )
    assert found(level, "pixels") == []


def _on_a_line(*loads: float, kind: str = "wired", limit: float = 32.0) -> ShowFacts:
    decoders = [
        a_decoder(f"DC-{number:02}", unit_loads=load, line="deck left")
        for number, load in enumerate(loads, 1)
    ]
    line = LineFacts("deck left", kind, 3, limit)
    return a_show(decoders=[*decoders, a_decoder("DC-99")], lines=(line, LineFacts("spare", "wired")))


@pytest.mark.parametrize(
    ("loads", "value", "verdict"),
    [
        pytest.param((1.0,) * 32, 32.0, Verdict.OK, id="X10-32-whole-loads"),
        pytest.param((1.0,) * 33, 33.0, Verdict.OVER, id="X10-33-whole-loads"),
        pytest.param((0.125,) * 256, 32.0, Verdict.OK, id="X10-256-eighths"),
        pytest.param((0.125,) * 257, 32.125, Verdict.OVER, id="X10-257-eighths"),
    ],
)
def test_a_wired_line_carries_32_unit_loads(loads: tuple[float, ...], value: float, verdict: Verdict) -> None:
    """EIA-485, adopted by ANSI E1.11: 32 unit loads, so 256 receivers of an eighth."""
    finding = the(_on_a_line(*loads), "line-loads", "deck left")
    assert finding.value == pytest.approx(value)
    assert finding.verdict is verdict


def test_a_splitter_takes_what_is_too_much_the_largest_first() -> None:
    finding = the(_on_a_line(1.0, 2.0, 0.5, limit=2.0), "line-loads", "deck left")
    assert mend_of(finding)[:2] == ("put DC-02 behind a splitter", 1.5)
    assert finding.harm is Harm.DARK


@pytest.mark.parametrize("kind", ["stream", "wireless", "local"])
def test_what_is_no_wire_has_no_unit_loads(kind: str) -> None:
    assert found(_on_a_line(*[1.0] * 40, kind=kind), "line-loads") == []
