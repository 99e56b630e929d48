"""Copper cores: size, resistance, and the volts a lead loses out and back."""

from math import pi

from service.electrical.sources import (
    AWG_36_DIAMETER_M,
    AWG_RATIO,
    AWG_STEPS,
    CIRCULAR_MIL_M2,
    COPPER_RESISTIVITY_20C_OHM_M,
    COPPER_TEMP_COEFF_PER_K,
)


def awg_diameter_m(awg: int) -> float:
    """Diameter of a solid round core. 1/0 is 0, 2/0 is -1, 4/0 is -3.

        d = 0.127 mm * 92 ** ((36 - n) / 39)

    Source: ASTM B258.
    Holds for: 4/0 to 36 AWG.

    >>> round(awg_diameter_m(18) * 1e3, 4)
    1.0237
    """
    return float(AWG_36_DIAMETER_M * AWG_RATIO ** ((36 - awg) / AWG_STEPS))


def awg_section_m2(awg: int) -> float:
    """Copper area of a solid round core.

        A = pi d^2 / 4

    Source: ASTM B258.

    >>> round(awg_section_m2(18) * 1e6, 4)
    0.823
    """
    return pi / 4.0 * awg_diameter_m(awg) ** 2


def circular_mils(section_m2: float) -> float:
    """The same area in circular mils (one is a circle a thousandth of an inch across).

    Source: definition; 5.067075e-10 m2.

    >>> round(circular_mils(awg_section_m2(12)), 1)
    6529.9
    """
    return section_m2 / CIRCULAR_MIL_M2


def core_ohm_per_m(section_m2: float) -> float:
    """Resistance of one metre of one solid copper core at 20 degC.

        r = rho20 / A

    Source: IEC 60028 (rho20). A stranded core has about 2 % more (NFPA 70 Ch. 9 Table 8), a flexible
    metric core 13 to 16 % more than its nominal area (IEC 60228 Table 3).

    >>> round(core_ohm_per_m(awg_section_m2(18)), 5)
    0.02095
    """
    if section_m2 <= 0.0:
        raise ValueError("a core has a section greater than zero")
    return COPPER_RESISTIVITY_20C_OHM_M / section_m2


def warming(conductor_degc: float) -> float:
    """How many times its 20 degC resistance a copper core has when it is warm.

        R(T) / R20 = 1 + alpha (T - 20)

    Source: IEC 60028 (alpha 0.00393 /K).
    Holds for: about -40 to 120 degC.

    >>> round(warming(75.0), 4)
    1.2162
    """
    return 1.0 + COPPER_TEMP_COEFF_PER_K * (conductor_degc - 20.0)


def lead_drop_v(
    out_a: float, back_a: float, ohm_per_m: float, one_way_m: float, conductor_degc: float = 20.0
) -> float:
    """Volts lost along a lead: out through one core and back through another.

        drop = (I_out + I_back) * r20 * (1 + alpha (T - 20)) * d

    `one_way_m` is the length of the lead, not of its copper: the return is counted here. A lead of
    two cores carries the same current out and back; on a lead with a shared core the shared core
    carries the sum of the emitters.

    Source: Ohm's law over both cores.
    Holds for: direct current; ignores connectors and joints.

    >>> round(lead_drop_v(out_a=6.4, back_a=1.6, ohm_per_m=0.02095, one_way_m=12.0), 3)
    2.011
    """
    return (out_a + back_a) * ohm_per_m * warming(conductor_degc) * one_way_m
