"""Extra-low voltage: the rows named C4 to C13, each with its text. Local code wins."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.electrical.extra_low import (
    CLASS_2_UNIT_AC_PEAK_V,
    CLASS_2_UNIT_DC_V,
    SELV_MAX_V,
    Lighting,
    Marking,
    allowed,
    bare_part_limit_v,
    contact_limit_v,
    heavy_wiring,
    is_class_2_unit,
    lighting_faults,
    parallel_fault,
)
from service.errors import BadQuantity
from tests.electrical.wire.rows import named


@pytest.mark.parametrize(("volts", "va", "amps"), named("C4", [(5.0, 25.0, 5.0), (24.0, 100.0, 4.167)]))
def test_the_plate_of_a_class_2_supply_depends_on_its_volts(volts: float, va: float, amps: float) -> None:
    """C4: NFPA 70 (2017) Ch. 9 Table 11(B), inherently limited."""
    found = allowed(Marking.CLASS_2, volts)

    assert found.nameplate_va == va
    assert found.nameplate_a == pytest.approx(amps, abs=5e-4)
    assert found.most_a == 8.0
    assert found.device_a is None


@pytest.mark.parametrize(
    ("volts", "va", "amps", "most_a"),
    named(
        "C5",
        [
            (12.0, 60.0, 5.0, 8.0),
            (20.0, 100.0, 5.0, 8.0),
            (20.01, 100.0, 4.998, 8.0),
            (30.0, 100.0, 3.333, 8.0),
            (30.01, 100.0, 3.332, 4.998),
            (60.0, 100.0, 1.667, 2.5),
        ],
    ),
)
def test_each_band_ends_with_its_upper_edge(volts: float, va: float, amps: float, most_a: float) -> None:
    """C5: NFPA 70 (2017) Ch. 9 Table 11(B), inherently limited: to 20, over 20 to 30, over 30 to 60 V."""
    found = allowed(Marking.CLASS_2, volts)

    assert found.nameplate_va == va
    assert found.nameplate_a == pytest.approx(amps, abs=5e-4)
    assert found.most_a == pytest.approx(most_a, abs=5e-4)


@pytest.mark.parametrize(
    ("volts", "most_a", "device_a"),
    named("C6", [(24.0, 41.67, 4.167), (20.0, 50.0, 5.0), (60.0, 16.667, 1.667), (5.0, 200.0, 5.0)]),
)
def test_a_class_2_supply_with_a_device(volts: float, most_a: float, device_a: float) -> None:
    """C6: NFPA 70 (2017) Ch. 9 Table 11(B): 250 VA, 1000/V A, device 5.0 A to 20 V, then 100/V."""
    found = allowed(Marking.CLASS_2_DEVICE, volts)

    assert found.most_va == 250.0
    assert found.most_a == pytest.approx(most_a, abs=5e-3)
    assert found.device_a == pytest.approx(device_a, abs=5e-4)


@pytest.mark.parametrize(
    ("is_wet", "hz", "volts"),
    [
        (True, None, 30.0),
        (True, 10.0, 12.4),
        (True, 200.0, 12.4),
        (True, 201.0, 30.0),
        (True, 9.9, 30.0),
        (False, 120.0, 24.8),
        (False, 3000.0, 60.0),
        (False, None, 60.0),
    ],
    ids=["C7", "C7-10", "C7-200", "C7-201", "C7-9.9", "C7-dry-120", "C7-dry-3000", "C7-dry"],
)
def test_wet_skin_and_slow_pulses_lower_what_may_be_touched(
    is_wet: bool, hz: float | None, volts: float
) -> None:
    """C7: NFPA 70 (2017) Ch. 9 Table 11(B) Note 4."""
    assert contact_limit_v(is_wet, hz) == volts


def test_C8_the_most_a_class_2_unit_gives_out() -> None:
    """C8: scope of UL 1310: 60 V continuous dc, 42.4 V peak ac."""
    assert (CLASS_2_UNIT_DC_V, CLASS_2_UNIT_AC_PEAK_V) == (60.0, 42.4)
    assert is_class_2_unit(60.0, 42.4)
    assert not is_class_2_unit(dc_v=60.1)
    assert not is_class_2_unit(ac_peak_v=42.5)


def test_C9_two_class_2_outputs_are_not_tied_together() -> None:
    """C9: NFPA 70 (2017) 725.121(B)."""
    assert parallel_fault(2) == "2 Class 2 outputs may not be tied together unless they are listed for it"
    assert parallel_fault(2, is_listed_for_it=True) == parallel_fault(1) == ""


GOOD = Lighting(volts=60.0, output_a=25.0, branch_a=20.0)


@pytest.mark.parametrize(
    ("system", "said"),
    [
        (Lighting(60.1, 25.0, 20.0), "60.1 V; the most is 60 V dc"),
        (Lighting(30.1, 25.0, 20.0, is_wet=True), "30.1 V where wet contact is likely; the most is 30 V dc"),
        (Lighting(60.0, 25.1, 20.0), "an output of 25.1 A; the most is 25 A"),
        (Lighting(60.0, 25.0, 30.0), "a branch circuit of 30 A; the most is 20 A"),
        (Lighting(60.0, 25.0, 20.0, is_secondary_grounded=True), "the secondary is grounded"),
        (Lighting(60.0, 25.0, 20.0, is_isolating=False), "the supply does not isolate"),
        (Lighting(60.0, 25.0, 20.0, is_listed=False), "parts are not listed"),
    ],
    ids=[f"C10-{part}" for part in ("volts", "wet", "output", "branch", "ground", "isolating", "listed")],
)
def test_low_voltage_lighting_has_a_scope(system: Lighting, said: str) -> None:
    """C10: NFPA 70 (2017) 411.1, 411.3, 411.4, 411.6, 411.7."""
    assert lighting_faults(system) == (said,)


def test_C10_at_every_limit_it_is_in_scope() -> None:
    """C10: NFPA 70 (2017) Art. 411; the limits themselves are allowed."""
    assert lighting_faults(GOOD) == ()
    assert lighting_faults(Lighting(30.0, 25.0, 20.0, is_wet=True)) == ()
    assert len(lighting_faults(Lighting(61.0, 26.0, 21.0, False, True, False, False))) == 6


def test_C11_safety_extra_low_voltage_and_bare_parts_in_the_dry() -> None:
    """C11: IEV / IEC 61558-1: 120 V ripple-free dc; IEC 60598-1 clause 8.2.3: bare parts, dry, 60 V."""
    assert SELV_MAX_V == 120.0
    assert bare_part_limit_v(is_damp=False) == 60.0


def test_C12_bare_parts_in_the_damp() -> None:
    """C12: IEC 60598-1:2008 clause 8.2.3 c): 30 V ripple-free dc."""
    assert bare_part_limit_v(is_damp=True) == 30.0


@pytest.mark.parametrize(
    ("volts", "most_a", "va"),
    named(
        "C13",
        [(48.0, 3.125, 100.0), (12.0, 8.0, 60.0), (20.0, 8.0, 100.0), (24.0, 8.0, 100.0), (60.0, 2.5, 100.0)],
    ),
)
def test_a_limited_power_source(volts: float, most_a: float, va: float) -> None:
    """C13: IEC 60950-1 Table 2B, dc."""
    found = allowed(Marking.LIMITED_SOURCE, volts)

    assert found.most_a == most_a
    assert found.most_va == va


def test_more_than_a_hundred_volt_amperes_leave_no_box_without_a_fuse() -> None:
    """From memory after NFPA 70 (2017) Ch. 9 Table 11(B): 100 VA, 60 V."""
    assert heavy_wiring(60.0, 100.0) == ()
    assert heavy_wiring(24.0, 320.0) == ("320 VA; light wiring ends at 100 VA",)
    assert len(heavy_wiring(72.0, 101.0)) == 2


@given(st.floats(0.01, 60), st.sampled_from(Marking))
def test_no_plate_says_more_than_it_may_give_or_a_hundred_volt_amperes(
    volts: float, marking: Marking
) -> None:
    found = allowed(marking, volts)

    assert found.nameplate_va <= 100.0 + 1e-9
    assert found.nameplate_a * volts == pytest.approx(found.nameplate_va)
    assert found.nameplate_a <= found.most_a


@pytest.mark.parametrize("marking", Marking)
@pytest.mark.parametrize("volts", [0.0, -24.0, 60.01, float("nan")])
def test_volts_outside_the_table_are_refused_with_the_range(marking: Marking, volts: float) -> None:
    with pytest.raises(BadQuantity) as refusal:
        allowed(marking, volts)
    assert "more than 0 and at most 60 V" in refusal.value.mend


def test_what_cannot_be_is_refused_with_what_is_allowed() -> None:
    with pytest.raises(BadQuantity) as hz:
        contact_limit_v(True, 0.0)
    with pytest.raises(BadQuantity) as outputs:
        parallel_fault(0)
    with pytest.raises(BadQuantity) as va:
        heavy_wiring(24.0, -1.0)

    assert "more than 0 Hz" in hz.value.mend
    assert "1 or more" in outputs.value.mend
    assert "0 VA or more" in va.value.mend


def test_an_output_that_gives_nothing_is_light() -> None:
    assert heavy_wiring(24.0, 0.0) == ()
