"""What a mend offers in words, it also says as acts that can be carried out."""

from dataclasses import replace

from service.limits.facts import LeadFacts, OutletFacts, PatchFacts, ShowFacts
from service.limits.mends.acts import Act, Readdress, Relead, Replug, Shift
from tests.limits.builders import (
    NEUTRAL,
    RGBW,
    a_decoder,
    a_feed,
    a_show,
    a_supply,
    a_unit,
    an_element,
    the,
)


def acts_of(show: ShowFacts, code: str, subject: str) -> tuple[Act, ...]:
    mend = the(show, code, subject).mend
    assert mend is not None
    return mend.acts


def test_everything_on_a_bank_shifts_as_one_act() -> None:
    """A and B, 67.2 W each, hang on one decoder; C is 134.4 W: 268.8 W on 256 W."""
    on = a_feed("PS-01", "DC-01")
    elements = [
        an_element("A", RGBW, 3.5, on), an_element("B", RGBW, 3.5, on),
        an_element("C", RGBW, 7.0, a_feed("PS-01"), dimmed=False),
    ]  # fmt: skip
    show = a_show(*elements, supplies=[a_supply("PS-01"), a_supply("PS-02")], decoders=[a_decoder("DC-01")])

    [act] = acts_of(show, "supply-watts", "PS-01")
    assert isinstance(act, Shift)
    assert act.supply == "PS-02"
    assert act.runs in {("A", "B"), ("C",)}


def test_a_dark_element_is_fed_by_one_act() -> None:
    lit = an_element("A", RGBW, 1.0, a_feed("PS-01", "DC-01"))
    dark = an_element("B", NEUTRAL, 1.0, None)
    show = a_show(lit, dark, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01", 8)], is_lit=True)

    assert acts_of(show, "no-feed", "B") == (Shift(("B",), "PS-01", 1, "DC-01", 5),)


def test_a_crowded_channel_gives_one_of_them_another() -> None:
    """Two of 3 A on one channel of 4 A."""
    on = a_feed("PS-01", "DC-01", 1, 1)
    tape = replace(NEUTRAL, max_run_m=None)
    elements = [an_element(tag, tape, 7.5, on, control_group="both") for tag in ("A", "B")]
    show = a_show(*elements, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01")])

    assert acts_of(show, "channel-amps", "DC-01 channel 1") == (Shift(("B",), first_channel=2),)


def test_a_faulty_decoder_is_taken_over_channel_by_channel() -> None:
    a, b = an_element("A", RGBW, 1.0, a_feed("PS-01", "DC-01")), an_element(
        "B", RGBW, 1.0, a_feed("PS-01", "DC-01", 5)
    )  # fmt: skip
    broken = a_decoder("DC-01", 8, unit=a_unit("DC-01", kind="decoder", model="D8", state="faulty"))
    show = a_show(
        a, b, supplies=[a_supply("PS-01")], decoders=[broken], free_decoders=(a_decoder("DC-02", 8),)
    )

    assert acts_of(show, "unit-state", "DC-01") == (
        Shift(("A",), decoder="DC-02", first_channel=1),
        Shift(("B",), decoder="DC-02", first_channel=5),
    )


def test_a_thin_lead_is_made_anew_of_the_wire_that_is_named() -> None:
    """3.84 A on 22 AWG, which takes 3 A."""
    thin = LeadFacts(2.0, "22 AWG", 0.0530, 3.0)
    show = a_show(
        an_element("A", RGBW, 4.8, a_feed("PS-01", "DC-01"), lead=thin),
        supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01")],
    )  # fmt: skip

    assert acts_of(show, "lead-amps", "A") == (Relead("A", "20 AWG", "one"),)


def test_a_clash_starts_the_later_one_elsewhere() -> None:
    on = [an_element(t, RGBW, 1.0, a_feed("PS-01", d)) for t, d in (("A", "DC-01"), ("B", "DC-02"))]
    patches = (PatchFacts("DC-01", None, 1, 1, 4), PatchFacts("DC-02", None, 1, 3, 4))
    show = replace(
        a_show(*on, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01"), a_decoder("DC-02")]),
        patches=patches,
    )

    assert acts_of(show, "address-overlap", "DC-02") == (Readdress("DC-02", None, 1, 5),)


def test_a_supply_on_a_dimmer_is_plugged_into_the_constant_circuit() -> None:
    show = replace(
        a_show(
            an_element("A", RGBW, 1.0, a_feed("PS-01"), dimmed=False),
            supplies=[a_supply("PS-01", outlet="MX1", outlet_kind="dimmed")],
        ),
        outlets=(OutletFacts("MX1", "dimmed", 20.0, 120.0), OutletFacts("MD1", "constant", 20.0, 120.0)),
    )

    assert acts_of(show, "dimmed-circuit", "PS-01") == (Replug("PS-01", "MD1"),)
