"""What is printed on a drum of wire ("18 AWG", "1.5 mm²") turned into section, ohms and amps."""

import re
from dataclasses import dataclass

from service.electrical.conductors import awg_section_m2, core_ohm_per_m
from service.electrical.sources import (
    AWG_CORD_LIMIT_A,
    CLASS_5_OHM_PER_KM,
    FLEXIBLE_CORD_LIMIT_A,
    SHOP_LIMIT_A,
)
from service.errors import BadQuantity

_AWG = re.compile(r"(?:awg\s*(\d{1,2})(/0)?|(\d{1,2})(/0)?\s*awg)", re.IGNORECASE)
_METRIC = re.compile(r"(\d{1,3}(?:[.,]\d{1,3})?)\s*(?:mm²|mm2|mm\^2|sq\s?mm)", re.IGNORECASE)

NFPA_CORD = "NFPA 70 (2017) Table 400.5(A)(1)"
MOST_OF_ANY_A = 100.0  # where no table here reaches; common practice


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
    ohm_per_km = CLASS_5_OHM_PER_KM.get(nominal_mm2)
    if ohm_per_km is None:
        sizes = ", ".join(f"{size:g}" for size in CLASS_5_OHM_PER_KM)
        raise BadQuantity(
            f"{nominal_mm2:g} mm² is not a size of flexible core in the table", f"Use one of {sizes} mm²."
        )
    section_m2 = nominal_mm2 * 1e-6
    text = f"{nominal_mm2:g} mm²"
    return Gauge(text, section_m2, ohm_per_km / 1000.0, _metric_limit_a(nominal_mm2), True)


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
    raise BadQuantity(f"{text!r} is not a wire gauge", "Write it as on the drum: 18 AWG or 1.5 mm².")


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


def thicker_than(size: Gauge) -> tuple[Gauge, ...]:
    """Stock sizes of the same family with more copper, thinnest first.

    >>> [g.text for g in thicker_than(awg(18))]
    ['16 AWG', '14 AWG', '12 AWG']
    """
    family = (
        [metric(mm2) for mm2 in FLEXIBLE_CORD_LIMIT_A] if size.is_metric else [awg(n) for n in SHOP_LIMIT_A]
    )
    return tuple(sorted((g for g in family if g.section_m2 > size.section_m2), key=lambda g: g.section_m2))


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
        table = {metric(mm2).section_m2: a for mm2, a in FLEXIBLE_CORD_LIMIT_A.items()}
        sources = dict.fromkeys(table, "BS 7671 Table 4F3A")
    else:
        table = {awg_section_m2(n): a for n, a in (SHOP_LIMIT_A | AWG_CORD_LIMIT_A).items()}
        cord = {awg_section_m2(n) for n in AWG_CORD_LIMIT_A}
        sources = {m2: NFPA_CORD if m2 in cord else "common practice" for m2 in table}
    thicker = [m2 for m2 in table if m2 >= size.section_m2]
    return (table[min(thicker)], sources[min(thicker)]) if thicker else (MOST_OF_ANY_A, "common practice")
