"""What gauge, and what fuse: the copper of a lead."""

from typing import Annotated

from pydantic import Field

from service.calculators.form import Ask, Assumed, Figure, Worked, beware, figure, plain
from service.electrical.ampacity import SOURCES, AmpacitySet, Decided, decide
from service.electrical.conductors import lead_drop_v
from service.electrical.fuses import Fuse, NoFuse, fuse_for
from service.electrical.gauges import Gauge as Size
from service.electrical.gauges import gauge, stock_sizes
from service.errors import BadQuantity
from service.limits import cautions
from service.units import Amperes, DegreesC, Gauge, Metres, Percent, Volts, show

Sets = Annotated[
    list[AmpacitySet],
    Field(
        min_length=1,
        max_length=len(AmpacitySet),
        description="tables of what a wire may carry; of several the strictest decides",
        examples=[["shop"]],
    ),
]
SHOP_ONLY = [AmpacitySet.SHOP]


class WireAsk(Ask):
    """What the lead carries, and where it lies."""

    load_a: Amperes = Field(description="amps in its busiest core, for hours", examples=["6.4 A"])
    carrying_cores: int = Field(
        2, ge=1, le=20, description="cores in the sheath that carry current", examples=[2]
    )
    ambient_degc: DegreesC = Field(30.0, description="air around the lead in °C", examples=["30 °C"])
    table: Sets = SHOP_ONLY
    connector_a: Amperes | None = Field(
        None, description="amps per pin (A) of its weakest connector", examples=["10 A"]
    )


class GaugeAsk(WireAsk):
    """A lead that wire is looked for."""

    lead_m: Metres = Field(0.0, description="length of the lead in m, one way", examples=["12 m"])
    nominal_v: Volts = Field(24.0, description="volts it carries, in V", examples=["24 V"])
    back_a: Amperes | None = Field(
        None, description="amps in the busiest return, in A; the load's if not given", examples=["1.6 A"]
    )
    limit_pct: Percent = Field(
        3.0, gt=0.0, le=100.0, description="most that the lead may lose, in % of its volts", examples=[3.0]
    )
    conductor_degc: DegreesC = Field(20.0, description="temperature of the copper in °C", examples=["40 °C"])
    metric: bool = Field(False, description="sizes in mm² instead of AWG", examples=[False])


class FuseAsk(WireAsk):
    """A lead that a fuse is looked for."""

    gauge: Gauge = Field(description="its wire, AWG or mm²", examples=["18 AWG"])


def work_gauge(ask: GaugeAsk) -> Worked:
    """The thinnest wire that takes amps and volts and can be fused; why each thinner one does not."""
    if not ask.nominal_v > 0.0:
        raise BadQuantity(f"a lead at {ask.nominal_v:g} V", "Give its volts as more than 0 V.")
    if ask.back_a is not None and ask.back_a > ask.load_a:
        raise BadQuantity(
            f"{ask.back_a:g} A back and {ask.load_a:g} A out",
            "Give the busiest core of all as the load, and the busiest return, which is no more, as back.",
        )
    refused = list[Figure]()
    for size in stock_sizes(ask.metric):
        why, decided = _why_not(ask, size), _decided(ask, size)
        if not why:
            return _chosen(ask, size, decided, refused)
        refused.append(plain(f"not {size.text}", why))
    return Worked(
        calculator="gauge",
        says=f"No wire in the tables does it for {ask.load_a:.2f} A over {show(ask.lead_m, 'm')}.",
        is_within=False,
        figures=refused,
        ways=_where_none_does(ask),
        assumed=_assumed(ask),
        formula=_HOW,
        source=_source(ask),
        caution=beware(cautions.FIRE),
    )


def work_fuse(ask: FuseAsk) -> Worked:
    """The fuse that holds the load and protects the wire, or why there is none."""
    size = gauge(ask.gauge)
    decided = _decided(ask, size)
    if decided.strictest is None:
        raise BadQuantity(
            f"{size.text} has no figure in {' or '.join(decided.silent)}",
            "Name a table that has one: shop goes from 22 to 12 AWG, us tables from 18 AWG up (stage cord "
            "from 14 AWG), iec cord from 0.5 to 4 mm².",
        )
    if not ask.load_a > 0.0:
        raise BadQuantity(f"a lead that carries {ask.load_a:g} A", "Give its amps at full, above 0 A.")
    found = fuse_for(ask.load_a, decided.strictest.device_a, ask.connector_a)
    figures = [
        figure("needed_a", found.needed_a, "A"),
        figure("most_a", found.bound_a, "A"),
        *_tables(decided),
    ]
    if isinstance(found, Fuse):
        says = f"{found.rating_a:g} A, at the source end of the {size.text} lead."
        figures.insert(0, figure("fuse_a", found.rating_a, "A"))
    else:
        says = f"No size fits: {found.why}."
        figures.insert(0, plain("fuse_a", "none fits"))
    return Worked(
        calculator="fuse",
        says=says,
        is_within=found.fits,
        figures=figures,
        ways=[found.mend] if isinstance(found, NoFuse) else [],
        assumed=_assumed(ask, size),
        formula="1.25 x load <= fuse <= least of wire and connector; fuses of 1 to 30 A",
        source=_source(ask),
        caution=beware(cautions.FIRE),
    )


def _where_none_does(ask: GaugeAsk) -> list[str]:
    """Nearer helps against lost volts only, and a thicker wire not against its connector."""
    ways = ["divide the load and give each part its own lead"]
    if ask.connector_a is not None and not fuse_for(ask.load_a, 1e3, ask.connector_a).fits:
        ways.append(f"use a connector for more than {ask.connector_a:g} A a pin")
    thickest = stock_sizes(ask.metric)[-1]
    if 100.0 * _lost_v(ask, thickest) / ask.nominal_v > ask.limit_pct:
        ways.append("bring the supply nearer")
    return ways


_HOW = (
    "drop = (I out + I back) x r x d; amps = table x share for cores x share for warm air; "
    "1.25 x load <= fuse <= least of wire and connector"
)


def _decided(ask: WireAsk, size: Size) -> Decided:
    return decide(size, ask.table, ask.carrying_cores, ask.ambient_degc)


def _lost_v(ask: GaugeAsk, size: Size) -> float:
    back_a = ask.load_a if ask.back_a is None else ask.back_a
    return lead_drop_v(ask.load_a, back_a, size.ohm_per_m, ask.lead_m, ask.conductor_degc)


def _why_not(ask: GaugeAsk, size: Size) -> str:
    decided = _decided(ask, size)
    if decided.strictest is None:
        return "no table has a figure for it"
    why = []
    limit_a = decided.strictest.limit_a
    if ask.load_a > limit_a * (1.0 + 1e-9):
        why.append(f"{ask.load_a:.2f} A is more than its {limit_a:.2f} A")
    lost_pct = 100.0 * _lost_v(ask, size) / ask.nominal_v
    if lost_pct > ask.limit_pct * (1.0 + 1e-9):
        why.append(f"loses {lost_pct:.2f} %")
    found = fuse_for(ask.load_a, decided.strictest.device_a, ask.connector_a)
    if isinstance(found, NoFuse) and ask.load_a <= limit_a:
        why.append(f"no fuse: {found.why}")
    return "; ".join(why)


def _chosen(ask: GaugeAsk, size: Size, decided: Decided, refused: list[Figure]) -> Worked:
    assert decided.strictest is not None
    fuse = fuse_for(ask.load_a, decided.strictest.device_a, ask.connector_a)
    assert isinstance(fuse, Fuse)
    lost_v = _lost_v(ask, size)
    lost_pct = 100.0 * lost_v / ask.nominal_v
    return Worked(
        calculator="gauge",
        says=(
            f"{size.text}: {ask.load_a:.2f} A of {decided.strictest.limit_a:.2f} A, "
            f"{lost_v:.2f} V lost ({lost_pct:.2f} %), {fuse.rating_a:g} A fuse."
        ),
        is_within=True,
        figures=[
            plain("gauge", size.text),
            figure("lost_v", lost_v, "V", 3),
            figure("lost_pct", lost_pct, "%", 2),
            figure("fuse_a", fuse.rating_a, "A"),
            *_tables(decided),
            *refused,
        ],
        ways=[],
        assumed=_assumed(ask, size),
        formula=_HOW,
        source=_source(ask),
        caution=beware(cautions.FIRE),
    )


def _tables(decided: Decided) -> list[Figure]:
    figures = [
        Figure(name=f"{one.which} a", value=one.limit_a, unit="A", text=f"{one.limit_a:.2f} A ({one.source})")
        for one in decided.figures
    ]
    return figures + [plain(f"{which} a", "no figure for this size") for which in decided.silent]


def _assumed(ask: WireAsk, size: Size | None = None) -> list[Assumed]:
    found = [] if size is None else _stricter(ask, size)
    if ask.connector_a is None:
        found.append(
            Assumed(
                what="the connector's amps per pin",
                taken="none: the wire alone was looked at",
                effect="a connector for less than the fuse burns before the fuse blows",
            )
        )
    if isinstance(ask, GaugeAsk) and not ask.lead_m:
        found.append(
            Assumed(
                what="length of the lead",
                taken="none: no volts are lost in it",
                effect=f"each metre and {ask.load_a:g} A out and back cost volts; give it",
            )
        )
    return found


def _stricter(ask: WireAsk, size: Size) -> list[Assumed]:
    """Tables that were not asked for and would allow less."""
    asked = _decided(ask, size).strictest
    others = decide(size, [each for each in AmpacitySet if each not in ask.table], ask.carrying_cores)
    less = [one for one in others.figures if asked is not None and one.limit_a < asked.limit_a - 1e-9]
    if not less or asked is None:
        return []
    return [
        Assumed(
            what="which code the lead falls under",
            taken=f"{', '.join(ask.table)}: {asked.limit_a:.2f} A",
            effect="; ".join(f"{one.which} allows {one.limit_a:.2f} A only ({one.source})" for one in less),
        )
    ]


def _source(ask: WireAsk) -> str:
    tables = "; ".join(SOURCES[which] for which in dict.fromkeys(ask.table))
    return f"{tables}; NFPA 70 (2017) 210.20(A) for 1.25; IEC 60028, ASTM B258, IEC 60228 for ohms"
