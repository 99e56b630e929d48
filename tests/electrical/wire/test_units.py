"""Conversion factors: the rows named U, against the typed value and against pint."""

from decimal import Decimal

import pint
import pytest
from scipy import constants

from service.electrical.conductors import circular_mils
from service.errors import BadQuantity
from service.units import show, to_decimal, to_si, to_um

REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry()


def test_U1_a_foot_and_an_inch_are_exact() -> None:
    """U1: 0.3048 m and 25.4 mm; the international yard and pound agreement, 1959; `scipy.constants`."""
    assert to_decimal("1 ft", "m") == Decimal("0.3048")
    assert to_um("1 in") == 25_400
    assert to_si("1 ft", "m") == pytest.approx(constants.foot, rel=1e-15)
    assert to_si("1 in", "m") == pytest.approx(constants.inch, rel=1e-15)


def test_U2_watts_per_foot_and_per_metre() -> None:
    """U2: 14.4 W/m is 4.38912 W/ft; 4.4 W/ft is 14.4357 W/m. pint 0.25."""
    assert show(14.4, "W/m", "us", digits=5) == "4.38912 W/ft"
    assert to_si("4.4 W/ft", "W/m") == pytest.approx(14.4357, abs=5e-5)
    assert REGISTRY("4.4 W/ft").to("W/m").magnitude == pytest.approx(14.4357, abs=5e-5)


def test_U3_a_reel_sold_by_the_foot_is_five_metres() -> None:
    """U3: 16.4042 ft is 5.0000 m."""
    assert to_um("16.4042 ft") == 5_000_000


def test_U4_a_circular_mil_is_an_area_and_a_mil_is_an_angle_to_the_registry() -> None:
    """U4: 5.067075e-10 m2 (GNU units); pint's `mil` is 9.817e-5 rad and its `thou` 0.0254 mm."""
    assert to_si("1 circular mil", "m2") == pytest.approx(5.067075e-10, rel=1e-7)
    assert circular_mils(5.067075e-10) == pytest.approx(1.0, rel=1e-7)
    assert REGISTRY("1 circular_mil").to("mm^2").magnitude == pytest.approx(0.000506707, rel=1e-6)
    assert REGISTRY("1 mil").to("rad").magnitude == pytest.approx(9.817e-5, rel=1e-4)
    assert to_si("1 thou", "m") == pytest.approx(0.0254e-3, rel=1e-12)
    with pytest.raises(BadQuantity, match="angle"):
        to_si("1 mil", "m")


def test_U5_ohms_per_thousand_feet() -> None:
    """U5: ohm/1000 ft times 3.2808399 is ohm/km. GNU units."""
    assert to_si("1 ohm/1000 ft", "ohm/m") * 1000.0 == pytest.approx(3.2808399, abs=5e-8)


def test_U6_watts_per_foot() -> None:
    """U6: W/ft times 3.2808399 is W/m."""
    assert to_si("1 W/ft", "W/m") == pytest.approx(3.2808399, abs=5e-8)
