"""What does a control line carry, how often does it tell, and where is its universe streamed."""

from math import floor

from pydantic import Field

from service.calculators.form import Ask, Assumed, Worked, figure, plain
from service.control.lines import (
    LINE_UNIT_LOADS,
    break_to_break_us,
    line_carries,
    multicast_address,
    refresh_hz,
    unit_loads,
)
from service.limits import cautions


class LineAsk(Ask):
    """One line of ANSI E1.11, and the universe on it."""

    receivers: int = Field(ge=1, le=10_000, description="receivers on the line", examples=[12])
    unit_load: float = Field(
        1.0,
        gt=0.0,
        le=32.0,
        description="unit loads of each receiver; 1 if its sheet says nothing",
        examples=[0.125],
    )
    slots: int = Field(512, ge=1, le=512, description="slots that the source sends", examples=[512])
    universe: int | None = Field(
        None, ge=1, le=63999, description="universe, if it is streamed (ANSI E1.31)", examples=[3]
    )


def work(ask: LineAsk) -> Worked:
    """Unit loads against 32, the fastest refresh, the multicast address."""
    loads = unit_loads({ask.unit_load: ask.receivers})
    carries = line_carries(loads)
    most = floor(LINE_UNIT_LOADS / ask.unit_load + 1e-6)
    says = (
        f"{ask.receivers} receivers are {loads:g} of {LINE_UNIT_LOADS:g} unit loads; "
        f"{ask.slots} slots are told {refresh_hz(ask.slots):.1f} times a second at the most."
    )
    figures = [
        plain("unit_loads", f"{loads:g}", loads),
        plain("most_receivers", f"{most}", most),
        figure("refresh_hz", refresh_hz(ask.slots), "Hz", 1),
        plain("break_to_break_us", f"{break_to_break_us(ask.slots):g} µs", break_to_break_us(ask.slots)),
    ]
    if ask.universe is not None:
        figures.append(plain("multicast", multicast_address(ask.universe), None))
    return Worked(
        calculator="line",
        says=says,
        is_within=carries,
        figures=figures,
        ways=[] if carries else [f"put a splitter in: {most} such receivers are what one line drives"],
        assumed=_assumed(ask),
        formula="unit loads = receivers x load; packet = 92 + 12 + 44 x (slots + 1) µs, at least 1204 µs",
        source="ANSI E1.11; EIA-485 for 32 unit loads; ANSI E1.31 for the multicast address",
        caution=cautions.CONTROL,
    )


def _assumed(ask: LineAsk) -> list[Assumed]:
    told, found = ask.model_fields_set, []
    if "unit_load" not in told:
        found.append(
            Assumed(
                what="unit loads of each receiver",
                taken="1, a whole one (EIA-485)",
                effect="with an eighth each, which some sheets say, a line drives 256",
            )
        )
    if "slots" not in told:
        found.append(
            Assumed(
                what="slots that the source sends",
                taken="512, as many sources always do",
                effect=f"with 128 they are told {refresh_hz(128):.1f} times a second at the most",
            )
        )
    return found
