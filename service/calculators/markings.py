"""What does a marking on a supply allow, and how many of its volts may be touched."""

from pydantic import Field

from service.calculators.form import Ask, Assumed, Worked, beware, figure
from service.electrical.extra_low import (
    INTERRUPTED_HZ,
    Lighting,
    Marking,
    allowed,
    bare_part_limit_v,
    contact_limit_v,
    heavy_wiring,
    lighting_faults,
)
from service.electrical.power.ranges import within
from service.limits import cautions
from service.units import Amperes, Hertz, Volts


class MarkingAsk(Ask):
    """A supply at extra-low voltage, and where people may meet it."""

    volts_v: Volts = Field(description="volts it gives without load, dc, in V", examples=["24 V"])
    output_a: Amperes = Field(description="most that one output gives, in A", examples=["4 A"])
    marking: Marking = Field(
        Marking.CLASS_2, description="what is marked on it, or asked of it", examples=["class 2"]
    )
    wet: bool = Field(False, description="wet contact is likely: sweat, rain, a wet deck", examples=[True])
    dimmed_hz: Hertz | None = Field(
        None, description="frequency of the dimming, in Hz, if it is dimmed", examples=["600 Hz"]
    )


def work(ask: MarkingAsk) -> Worked:
    """The plate that the marking allows, and every way in which this supply is beyond it."""
    found = allowed(ask.marking, ask.volts_v)
    output_va = ask.volts_v * within("the amps of an output", ask.output_a, 0.001, 10_000.0, "A")
    touch_v = contact_limit_v(ask.wet, ask.dimmed_hz)
    wrong = list(lighting_faults(Lighting(ask.volts_v, ask.output_a, 0.0, is_wet=ask.wet)))
    if ask.output_a > found.nameplate_a * (1.0 + 1e-9):
        wrong.append(f"{ask.output_a:g} A; a {ask.marking} plate may say {found.nameplate_a:.3g} A")
    if output_va > found.nameplate_va * (1.0 + 1e-9):
        wrong.append(f"{output_va:g} VA; a {ask.marking} plate may say {found.nameplate_va:g} VA")
    if ask.volts_v > touch_v * (1.0 + 1e-9):
        wrong.append(f"{ask.volts_v:g} V; where skin may meet it the most is {touch_v:g} V")
    says = (
        f"Within {ask.marking} at {ask.volts_v:g} V, if it is marked so."
        if not wrong
        else f"Beyond {ask.marking} at {ask.volts_v:g} V: {'; '.join(wrong)}."
    )
    heavy = heavy_wiring(ask.volts_v, output_va)
    figures = [
        figure("plate_va", found.nameplate_va, "VA"),
        figure("plate_a", found.nameplate_a, "A", 3),
        figure("most_a", found.most_a, "A", 3),
        figure("touch_v", touch_v, "V"),
        figure("bare_part_v", bare_part_limit_v(ask.wet), "V"),
    ]
    if found.device_a is not None:
        figures.append(figure("device_a", found.device_a, "A", 3))
    return Worked(
        calculator="marking",
        says=says,
        is_within=not wrong,
        figures=figures,
        ways=[f"fuse every lead that leaves the box: {'; '.join(heavy)}"] if heavy else [],
        assumed=_assumed(ask),
        formula="bands of the table by the volts without load; below 20 V the plate allows 5 x V VA, not 100",
        source=f"{found.source}; NFPA 70 (2017) 411; IEC 60598-1:2008 clause 8.2.3",
        caution=beware(cautions.WET, cautions.OUTPUTS),
    )


def _assumed(ask: MarkingAsk) -> list[Assumed]:
    found, pulsed_v = [], contact_limit_v(ask.wet, INTERRUPTED_HZ[0])
    if "wet" not in ask.model_fields_set:
        found.append(
            Assumed(
                what="whether wet contact is likely",
                taken="dry",
                effect=f"wet, skin may meet {contact_limit_v(True, ask.dimmed_hz):g} V at the most",
            )
        )
    if ask.dimmed_hz is None:
        found.append(
            Assumed(
                what="frequency of the dimming",
                taken="none: a steady voltage",
                effect=f"dimmed 10 to 200 times a second, skin may meet {pulsed_v:g} V at the most",
            )
        )
    return found
