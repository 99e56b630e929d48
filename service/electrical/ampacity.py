"""What one core of a lead may carry: tables of several codes beside the shop's own, corrected the same way.

Which code a piece of a show falls under is for a licensed person to say. The shop's figures decide unless the
house asks for more sets; then all are worked out and the strictest decides. Order: the table, the cores that
carry, the air, then the greatest fuse the code allows.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from math import sqrt

from service.electrical.conductors import COLDEST_DEGC, awg_section_m2
from service.electrical.gauges import Gauge
from service.electrical.sources import (
    AMBIENT_SHARE,
    AWG_CORD_LIMIT_A,
    AWG_CORD_OF_THREE_LIMIT_A,
    BOAT_LIMIT_A,
    CONTINUOUS_FACTOR,
    FIXTURE_WIRE_LIMIT_A,
    FLEXIBLE_CORD_LIMIT_A,
    MANY_CORES_SHARE,
    SMALL_WIRE_DEVICE_A,
    STAGE_CORD_DEVICE_A,
    STAGE_CORD_LIMIT_A,
)
from service.errors import BadQuantity

TABLE_DEGC = 30.0  # the air that every table here is made for
MOST_CORES = MANY_CORES_SHARE[-1][0]
SHOP_CORES = 5  # a common and four colours; common practice
_SAME_M2 = 1e-12  # sections nearer than this are the same size


class AmpacitySet(StrEnum):
    """Whose table. Each is a whole answer by itself; no set relaxes another."""

    SHOP = "shop"
    US_CORD = "us cord"
    US_FIXTURE_WIRE = "us fixture wire"
    US_SMALL_WIRE = "us small wire"  # by its greatest fuse; wire fixed in place
    US_STAGE_CORD = "us stage cord"
    IEC_CORD = "iec cord"


SOURCES = {
    AmpacitySet.SHOP: "common practice",
    AmpacitySet.US_CORD: "NFPA 70 (2017) Table 400.5(A)(1), 400.5(A)(3)",
    AmpacitySet.US_FIXTURE_WIRE: "NFPA 70 (2017) Table 402.5",
    AmpacitySet.US_SMALL_WIRE: "NFPA 70 (2017) 240.4(D)",
    AmpacitySet.US_STAGE_CORD: "NFPA 70 (2017) Table 520.44(C)(3)",
    AmpacitySet.IEC_CORD: "BS 7671 Table 4F3A",
}
_OWN_INSULATION_DEGC = {AmpacitySet.US_STAGE_CORD: 75}  # the others: 60


@dataclass(frozen=True, slots=True)
class Ampacity:
    """Amps one core may carry by one set, and how they came about.

    `limit_a` = `table_a` * `cores_share` * `ambient_share`. `device_a`: the greatest fuse that protects it,
    never above `limit_a`.
    """

    which: AmpacitySet
    table_a: float
    cores_share: float
    ambient_share: float
    limit_a: float
    device_a: float

    @property
    def continuous_a(self) -> float:
        """The most amps for three hours or more that a fuse which protects this core holds."""
        return self.device_a / CONTINUOUS_FACTOR

    @property
    def source(self) -> str:
        return SOURCES[self.which]

    def __str__(self) -> str:
        parts = [f"{self.table_a:g} A"]
        parts += [f"{share:.2f}" for share in (self.cores_share, self.ambient_share) if share != 1.0]
        said = f"{self.which}: {' × '.join(parts)}"
        return f"{said} = {self.limit_a:.2f} A" if len(parts) > 1 else said


@dataclass(frozen=True, slots=True)
class Decided:
    """The figure of every set asked for. `strictest` None: no set has one for this size."""

    strictest: Ampacity | None
    figures: tuple[Ampacity, ...]
    silent: tuple[AmpacitySet, ...]


def ampacity(
    size: Gauge,
    which: AmpacitySet = AmpacitySet.SHOP,
    carrying_cores: int = 2,
    ambient_degc: float = TABLE_DEGC,
    insulation_degc: int | None = None,
) -> Ampacity:
    """Amps one core may carry for hours, in a lead with so many cores that carry current.

        I = table * share for cores * share for warm air

    A size that the set's table does not have takes the figure of the next thinner one that it has. More
    than three carrying cores take NFPA 70 Table 400.5(A)(3) of the figure for three; the table for cords of
    two (BS 7671) takes sqrt(2 / n), equal heat in one sheath (physics). The shop's figures are made for
    leads of up to five cores (common practice); more take the American shares. `insulation_degc` None: 60,
    stage cord 75.

    Source: the set's own table; `ambient_share` for the air.
    Holds for: 1 to 20 carrying cores; air from -40 degC to below the insulation's temperature. BadQuantity
    outside, and for a size thinner than the thinnest of the set.

    >>> from service.electrical.gauges import awg
    >>> print(ampacity(awg(18), AmpacitySet.US_CORD, carrying_cores=5))
    us cord: 7 A × 0.80 = 5.60 A
    >>> ampacity(awg(18)).limit_a
    7.0
    """
    _cores_in_range(carrying_cores)
    insulation = insulation_degc or _OWN_INSULATION_DEGC.get(which, 60)
    warm = ambient_share(ambient_degc, insulation)
    table = _table_a(size, which, carrying_cores, insulation)
    if table is None:
        raise BadQuantity(
            f"{size.text} has no figure in the set {which} ({SOURCES[which]})",
            f"Use a size from {_sizes(which)}, or another set.",
        )
    cores = _cores_share(which, carrying_cores)
    limit_a = table * cores * warm
    cap_a = _device_a(size, which)
    return Ampacity(which, table, cores, warm, limit_a, limit_a if cap_a is None else min(limit_a, cap_a))


def decide(
    size: Gauge,
    sets: Iterable[AmpacitySet] = (AmpacitySet.SHOP,),
    carrying_cores: int = 2,
    ambient_degc: float = TABLE_DEGC,
) -> Decided:
    """The figure of each set, in the order asked, and the strictest of them.

    Source: as `ampacity`. Where sets differ all are to be printed, and the strictest decides (house rule).

    >>> from service.electrical.gauges import awg
    >>> decided = decide(awg(18), (AmpacitySet.SHOP, AmpacitySet.US_FIXTURE_WIRE))
    >>> decided.strictest.limit_a, [str(figure) for figure in decided.figures]
    (6.0, ['shop: 7 A', 'us fixture wire: 6 A'])
    """
    _cores_in_range(carrying_cores)
    figures, silent = [], []
    for which in sets:
        insulation = _OWN_INSULATION_DEGC.get(which, 60)
        if _table_a(size, which, carrying_cores, insulation) is None:
            silent.append(which)
        else:
            figures.append(ampacity(size, which, carrying_cores, ambient_degc))
    strictest = min(figures, key=lambda figure: figure.limit_a, default=None)
    return Decided(strictest, tuple(figures), tuple(silent))


def ambient_share(ambient_degc: float, insulation_degc: int = 60) -> float:
    """Share of the 30 degC amps left in warmer air; never more than 1 in cooler.

    The printed share of the band, whose name is its hottest air; above the last band `heat_balance_share`.

    Source: NFPA 70 (2023) Table 310.15(B)(1)(1); BS 7671 for flexible cords of 60 degC. BadQuantity outside
    -40 degC to below the insulation's temperature.

    >>> ambient_share(25.0), ambient_share(40.0), ambient_share(46.0, 75)
    (1.0, 0.82, 0.75)
    """
    if insulation_degc not in AMBIENT_SHARE:
        known = ", ".join(str(degc) for degc in AMBIENT_SHARE)
        raise BadQuantity(
            f"insulation for {insulation_degc} °C is not in the table", f"Use one of {known} °C."
        )
    if not COLDEST_DEGC <= ambient_degc < insulation_degc:
        raise BadQuantity(
            f"air at {ambient_degc:g} °C leaves wire with {insulation_degc} °C insulation nothing to go by",
            f"Give the air from {COLDEST_DEGC:g} to below {insulation_degc} °C, or use hotter insulation.",
        )
    if ambient_degc <= TABLE_DEGC:
        return 1.0
    for band_degc, share in AMBIENT_SHARE[insulation_degc].items():
        if ambient_degc <= band_degc:
            return share
    return heat_balance_share(ambient_degc, insulation_degc)


def heat_balance_share(ambient_degc: float, insulation_degc: float) -> float:
    """Share of the 30 degC amps that makes the insulation just as hot in other air.

        f = sqrt((Tc - Ta) / (Tc - 30))

    Source: heat given off is in proportion to the rise, heat made to the square of the current (physics);
    the printed shares follow it to 0.006.

    >>> round(heat_balance_share(40.0, 75), 3)
    0.882
    """
    return sqrt((insulation_degc - ambient_degc) / (insulation_degc - TABLE_DEGC))


def boat_limit_a(size: Gauge, insulation_degc: int = 60) -> float | None:
    """A second opinion: what the boat law lets this size carry below 50 V; None where it has no figure.

    Source: 33 CFR 183.425 Table 5. It is more generous than the sets above and decides nothing.

    >>> from service.electrical.gauges import awg
    >>> boat_limit_a(awg(16))
    15.0
    """
    return _next_thinner(size, BOAT_LIMIT_A.get(insulation_degc, {}))


def _cores_in_range(carrying_cores: int) -> None:
    if not 1 <= carrying_cores <= MOST_CORES:
        raise BadQuantity(
            f"{carrying_cores} carrying cores is outside the table", f"Give from 1 to {MOST_CORES} cores."
        )


def _table_a(size: Gauge, which: AmpacitySet, carrying_cores: int, insulation_degc: int) -> float | None:
    match which:
        case AmpacitySet.SHOP:
            return size.shop_limit_a
        case AmpacitySet.US_CORD:
            return _next_thinner(size, AWG_CORD_LIMIT_A if carrying_cores < 3 else AWG_CORD_OF_THREE_LIMIT_A)
        case AmpacitySet.US_FIXTURE_WIRE:
            return _next_thinner(size, FIXTURE_WIRE_LIMIT_A)
        case AmpacitySet.US_SMALL_WIRE:
            return _next_thinner(size, SMALL_WIRE_DEVICE_A)
        case AmpacitySet.US_STAGE_CORD:
            if insulation_degc not in STAGE_CORD_LIMIT_A:
                raise BadQuantity(
                    f"stage cord for {insulation_degc} °C is not in the table", "Use 75 or 90 °C insulation."
                )
            return _next_thinner(size, STAGE_CORD_LIMIT_A[insulation_degc])
        case AmpacitySet.IEC_CORD:
            fits = [a for mm2, a in FLEXIBLE_CORD_LIMIT_A.items() if mm2 * 1e-6 <= size.section_m2 + _SAME_M2]
            return max(fits, default=None)


def _next_thinner(size: Gauge, table: dict[int, float]) -> float | None:
    fits = [a for number, a in table.items() if awg_section_m2(number) <= size.section_m2 + _SAME_M2]
    return max(fits, default=None)


def _cores_share(which: AmpacitySet, carrying_cores: int) -> float:
    if which is AmpacitySet.SHOP and carrying_cores <= SHOP_CORES:
        return 1.0
    if which is AmpacitySet.IEC_CORD:
        return sqrt(2.0 / max(2, carrying_cores))
    return next(share for most, share in MANY_CORES_SHARE if carrying_cores <= most)


def _device_a(size: Gauge, which: AmpacitySet) -> float | None:
    # NFPA 70 240.5(A): cords are protected at their table's amps, fixture wire at its own.
    return _next_thinner(size, STAGE_CORD_DEVICE_A) if which is AmpacitySet.US_STAGE_CORD else None


def _sizes(which: AmpacitySet) -> str:
    return {
        AmpacitySet.SHOP: "22 to 12 AWG or 0.5 to 4 mm²",
        AmpacitySet.US_STAGE_CORD: "14 AWG up",
        AmpacitySet.IEC_CORD: "0.5 mm² up",
    }.get(which, "18 AWG up")
