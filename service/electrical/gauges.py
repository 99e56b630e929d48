"""What is printed on a drum of wire ("18 AWG", "1.5 mm²") turned into section, ohms and amps."""

import re
from dataclasses import dataclass
from enum import StrEnum

from service.electrical.conductors import awg_section_m2, core_ohm_per_m, warming
from service.electrical.sources import (
    AWG_CORD_LIMIT_A,
    CLASS_1_OHM_PER_KM,
    CLASS_2_OHM_PER_KM,
    CLASS_5_OHM_PER_KM,
    CLASS_5_TINNED_OHM_PER_KM,
    FLEXIBLE_CORD_LIMIT_A,
    FOOT_M,
    SEVEN_STRAND_75C_OHM_PER_KFT,
    SEVEN_STRAND_SURCHARGE,
    SHOP_LIMIT_A,
)
from service.errors import BadQuantity

_AWG = re.compile(r"(?:awg\s*(\d{1,2})(/0)?|(\d{1,2})(/0)?\s*awg)", re.IGNORECASE)
_METRIC = re.compile(r"(\d{1,3}(?:[.,]\d{1,3})?)\s*(?:mm²|mm2|mm\^2|sq\s?mm)", re.IGNORECASE)

NFPA_CORD = "NFPA 70 (2017) Table 400.5(A)(1)"
MOST_OF_ANY_A = 100.0  # where no table here reaches; common practice


class Build(StrEnum):
    """How a core is made up. The first two are sold by AWG, the rest by mm² (IEC 60228)."""

    SOLID = "solid"
    SEVEN_STRAND = "7-strand"
    CLASS_1 = "class 1"  # solid
    CLASS_2 = "class 2"  # stranded
    CLASS_5 = "class 5"  # flexible
    CLASS_5_TINNED = "class 5 tinned"


_METRIC_OHM_PER_KM = {
    Build.CLASS_1: CLASS_1_OHM_PER_KM,
    Build.CLASS_2: CLASS_2_OHM_PER_KM,
    Build.CLASS_5: CLASS_5_OHM_PER_KM,
    Build.CLASS_5_TINNED: CLASS_5_TINNED_OHM_PER_KM,
}


@dataclass(frozen=True, slots=True)
class Gauge:
    """One size of core. `ohm_per_m`: one core at 20 degC. `shop_limit_a` None: no shop figure."""

    text: str
    section_m2: float
    ohm_per_m: float
    shop_limit_a: float | None
    is_metric: bool


def awg(number: int) -> Gauge:
    """The gauge of that number; 1/0 is 0, 2/0 is -1.

    >>> awg(18).text, awg(18).shop_limit_a
    ('18 AWG', 7.0)
    """
    name = f"{number} AWG" if number > 0 else f"{1 - number}/0 AWG"
    section_m2 = awg_section_m2(number)
    return Gauge(name, section_m2, core_ohm_per_m(section_m2), SHOP_LIMIT_A.get(number), False)


def metric(nominal_mm2: float) -> Gauge:
    """Flexible plain copper of that nominal area: the resistance is IEC 60228 class 5, not rho over A.

    Amps: the shop figure of the next thinner AWG, or BS 7671 Table 4F3A if that is less, so that
    a metric drum never carries more than the shop allows its neighbour.

    >>> round(metric(1.5).ohm_per_m, 4), metric(1.5).shop_limit_a
    (0.0133, 10.0)
    """
    ohm_per_m = metric_ohm_per_m(nominal_mm2)
    text = f"{nominal_mm2:g} mm²"
    return Gauge(text, nominal_mm2 * 1e-6, ohm_per_m, _metric_limit_a(nominal_mm2), True)


def awg_ohm_per_m(number: int, build: Build = Build.SOLID, conductor_degc: float = 20.0) -> float:
    """Ohms of one metre of one plain copper core of that gauge.

        solid: rho20 / A * (1 + alpha (T - 20))

    Seven strands are read off the table, made for 75 degC; where it has no row they are taken as 2.5 %
    above solid, the most by which any of its rows is.

    Source: ASTM B258 and IEC 60028; NFPA 70 (2017) Ch. 9 Table 8 for strands. BadQuantity for a build sold
    by mm², a gauge outside 4/0 to 36 AWG or copper outside -40 to 120 degC.

    >>> round(awg_ohm_per_m(16, Build.SEVEN_STRAND, 75.0), 5)
    0.01637
    """
    solid = core_ohm_per_m(awg_section_m2(number)) * warming(conductor_degc)
    if build is Build.SOLID:
        return solid
    if build is not Build.SEVEN_STRAND:
        raise BadQuantity(f"{build} copper is sold by mm², not by AWG", "Use solid or 7-strand, or give mm².")
    warm_ohm_per_kft = SEVEN_STRAND_75C_OHM_PER_KFT.get(number)
    if warm_ohm_per_kft is None:
        return solid * SEVEN_STRAND_SURCHARGE
    return warm_ohm_per_kft / (1000.0 * FOOT_M) * warming(conductor_degc) / warming(75.0)


def metric_ohm_per_m(nominal_mm2: float, build: Build = Build.CLASS_5, conductor_degc: float = 20.0) -> float:
    """Most ohms of one metre of one core of that nominal area, as its class allows.

        r = r20 * (1 + alpha (T - 20))

    Source: IEC 60228 Tables 1, 2 and 3. BadQuantity for a size its table does not have, a build sold by
    AWG or copper outside -40 to 120 degC.

    >>> round(metric_ohm_per_m(1.5, Build.CLASS_5_TINNED), 5)
    0.0137
    """
    if build not in _METRIC_OHM_PER_KM:
        classes = ", ".join(_METRIC_OHM_PER_KM)
        raise BadQuantity(
            f"{build} copper is sold by AWG, not by mm²", f"Use one of {classes}, or give an AWG."
        )
    table = _METRIC_OHM_PER_KM[build]
    if nominal_mm2 not in table:
        sizes = ", ".join(f"{size:g}" for size in table)
        raise BadQuantity(
            f"{nominal_mm2:g} mm² is not a size of {build} core in the table", f"Use one of {sizes} mm²."
        )
    return table[nominal_mm2] / 1000.0 * warming(conductor_degc)


def _metric_limit_a(nominal_mm2: float) -> float | None:
    thinner = [a for number, a in SHOP_LIMIT_A.items() if awg_section_m2(number) <= nominal_mm2 * 1e-6]
    cord_a = FLEXIBLE_CORD_LIMIT_A.get(nominal_mm2)
    if not thinner or cord_a is None:
        return None
    return min(max(thinner), cord_a)


def gauge(text: str) -> Gauge:
    """The gauge that a drum label means.

    >>> gauge("awg 18").text, gauge("0.75 mm2").text, gauge("1/0 AWG").text
    ('18 AWG', '0.75 mm²', '1/0 AWG')
    """
    cleaned = text.strip()
    if found := _AWG.fullmatch(cleaned):
        number = int(found[1] or found[3])
        is_aught = bool(found[2] or found[4])
        if is_aught and 1 <= number <= 4:
            return awg(1 - number)
        if not is_aught and 0 <= number <= 36:
            return awg(number)
    elif found := _METRIC.fullmatch(cleaned):
        return metric(float(found[1].replace(",", ".")))
    raise BadQuantity(
        f"{text!r} is not a wire gauge",
        "Write it as on the drum: 18 AWG or 1.5 mm². Known: 4/0 to 36 AWG, 0.5 to 6 mm².",
    )


def known_gauge(text: str | None) -> Gauge | None:
    """The gauge, or None where the text is blank or not understood.

    >>> known_gauge("bell wire") is None
    True
    """
    if not text:
        return None
    try:
        return gauge(text)
    except BadQuantity:
        return None


def stock_sizes(is_metric: bool) -> tuple[Gauge, ...]:
    """Sizes that a shop keeps, thinnest first, by mm² or by AWG.

    >>> [g.text for g in stock_sizes(is_metric=True)]
    ['0.5 mm²', '0.75 mm²', '1 mm²', '1.5 mm²', '2.5 mm²', '4 mm²']
    """
    if is_metric:
        family = [metric(mm2) for mm2 in FLEXIBLE_CORD_LIMIT_A if mm2 in CLASS_5_OHM_PER_KM]
    else:
        family = [awg(number) for number in SHOP_LIMIT_A]
    return tuple(sorted(family, key=lambda size: size.section_m2))


def thicker_than(size: Gauge) -> tuple[Gauge, ...]:
    """Stock sizes of the same family with more copper, thinnest first.

    >>> [g.text for g in thicker_than(awg(18))]
    ['16 AWG', '14 AWG', '12 AWG']
    """
    return tuple(one for one in stock_sizes(size.is_metric) if one.section_m2 > size.section_m2)


def most_a(text: str | None) -> tuple[float, str]:
    """(amps, source): the most that may be entered as the limit of a wire of this gauge.

    A wire thinner than the thinnest in the tables may carry no more than that one.

    >>> most_a("18 AWG"), most_a("20 AWG"), most_a("26 AWG")[0], most_a("1/0 AWG")[0]
    ((10.0, 'NFPA 70 (2017) Table 400.5(A)(1)'), (5.0, 'common practice'), 3.0, 100.0)
    """
    size = known_gauge(text)
    if size is None:
        return MOST_OF_ANY_A, "common practice"
    if size.is_metric:
        table = {mm2 * 1e-6: a for mm2, a in FLEXIBLE_CORD_LIMIT_A.items()}
        sources = dict.fromkeys(table, "BS 7671 Table 4F3A")
    else:
        table = {awg_section_m2(n): a for n, a in (SHOP_LIMIT_A | AWG_CORD_LIMIT_A).items()}
        cord = {awg_section_m2(n) for n in AWG_CORD_LIMIT_A}
        sources = {m2: NFPA_CORD if m2 in cord else "common practice" for m2 in table}
    thicker = [m2 for m2 in table if m2 >= size.section_m2]
    return (table[min(thicker)], sources[min(thicker)]) if thicker else (MOST_OF_ANY_A, "common practice")
