"""Copper cores: size, resistance, and the volts a lead loses out and back."""

from math import pi

from service.electrical.sources import (
    AWG_36_DIAMETER_M,
    AWG_RATIO,
    AWG_STEPS,
    CIRCULAR_MIL_M2,
    COPPER_RESISTIVITY_20C_OHM_M,
    COPPER_TEMP_COEFF_PER_K,
    CORD_MV_PER_A_M,
    DROP_ADVICE,
    FOOT_M,
    K_CODE_OHM_CMIL_PER_FT,
    K_MARINE_OHM_CMIL_PER_FT,
)
from service.errors import BadQuantity

COLDEST_DEGC, HOTTEST_DEGC = -40.0, 120.0  # the straight line of copper holds between them
THICKEST_AWG, THINNEST_AWG = -3, 36  # 4/0 and 36


def awg_diameter_m(awg: int) -> float:
    """Diameter of a solid round core. 1/0 is 0, 2/0 is -1, 4/0 is -3.

        d = 0.127 mm * 92 ** ((36 - n) / 39)

    Source: ASTM B258.
    Holds for: 4/0 to 36 AWG; BadQuantity outside.

    >>> round(awg_diameter_m(18) * 1e3, 4)
    1.0237
    """
    if not THICKEST_AWG <= awg <= THINNEST_AWG:
        raise BadQuantity(f"{awg} is not a gauge of the table", "Use a gauge from 4/0 (-3) to 36 AWG.")
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
    if not section_m2 > 0.0:
        raise BadQuantity(
            f"a core with a section of {section_m2 * 1e6:g} mm² is no core",
            "Give a section greater than 0 mm².",
        )
    return COPPER_RESISTIVITY_20C_OHM_M / section_m2


def warming(conductor_degc: float) -> float:
    """How many times its 20 degC resistance a copper core has when it is warm.

        R(T) / R20 = 1 + alpha (T - 20)

    Source: IEC 60028 (alpha 0.00393 /K).
    Holds for: -40 to 120 degC; BadQuantity outside.

    >>> round(warming(75.0), 4)
    1.2162
    """
    if not COLDEST_DEGC <= conductor_degc <= HOTTEST_DEGC:
        raise BadQuantity(
            f"copper at {conductor_degc:g} °C is outside the table",
            f"Give a conductor temperature from {COLDEST_DEGC:g} to {HOTTEST_DEGC:g} °C.",
        )
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
    Holds for: direct current; ignores connectors and joints. BadQuantity for a resistance that is not
    above zero, unless the lead has no length either, and for a length below zero.

    >>> round(lead_drop_v(out_a=6.4, back_a=1.6, ohm_per_m=0.02095, one_way_m=12.0), 3)
    2.011
    """
    if not ohm_per_m > 0.0 and one_way_m != 0.0:
        raise BadQuantity(
            f"a core of {ohm_per_m:g} Ω/m is no copper", "Give a resistance greater than 0 Ω/m, or a gauge."
        )
    if not one_way_m >= 0.0:
        raise BadQuantity(f"a lead {one_way_m:g} m long is no lead", "Give a length of 0 m or more, one way.")
    return (out_a + back_a) * ohm_per_m * warming(conductor_degc) * one_way_m


def loop_mv_per_a_m(ohm_per_m: float, conductor_degc: float = 20.0) -> float:
    """Millivolts that two like cores lose for each ampere and each metre one way.

        z = 2 * r20 * (1 + alpha (T - 20)) * 1000

    Source: Ohm's law; the form in which cord tables print it (BS 7671 Table 4F3B, at 60 degC).

    >>> round(loop_mv_per_a_m(0.0267, 60.0), 1)
    61.8
    """
    return 1000.0 * lead_drop_v(1.0, 1.0, ohm_per_m, 1.0, conductor_degc)


def cord_drop_v(nominal_mm2: float, load_a: float, one_way_m: float) -> float:
    """Volts lost along a warm flexible cord of two cores, read off the table.

        drop = z * I * d / 1000

    Source: BS 7671 Table 4F3B, 60 degC, direct current. BadQuantity for a size that is not in it.

    >>> cord_drop_v(0.75, 4.0, 10.0)
    2.48
    """
    if nominal_mm2 not in CORD_MV_PER_A_M:
        sizes = ", ".join(f"{size:g}" for size in CORD_MV_PER_A_M)
        raise BadQuantity(f"{nominal_mm2:g} mm² is not a size of the cord table", f"Use one of {sizes} mm².")
    return CORD_MV_PER_A_M[nominal_mm2] * load_a * one_way_m / 1000.0


def warm_length_m(cool_m: float, conductor_degc: float) -> float:
    """How long the warm lead may be that loses what `cool_m` of it lose at 20 degC.

        L2 = 254.5 L1 / (234.5 + T)

    Source: FAA AC 43.13-1B paragraph 11-66; the same straight line as `warming`.

    >>> round(warm_length_m(10.0, 40.0), 3)
    9.271
    """
    return cool_m / warming(conductor_degc)


def least_circular_mils(load_a: float, copper_m: float, allowed_v: float) -> float:
    """Copper wanted so that a lead loses no more than `allowed_v`, in circular mils.

        CM = K I L / E        K = 10.75 ohm circular mil / ft, L in feet

    `copper_m` is the length of copper, out and back together: the boat builders' form counts it so.

    Source: ABYC E-11 as quoted publicly. BadQuantity where no volts are allowed.

    >>> round(least_circular_mils(10.0, 21 * 0.3048, 0.36))
    6271
    """
    if not allowed_v > 0.0:
        raise BadQuantity(f"no copper loses as little as {allowed_v:g} V", "Allow a drop greater than 0 V.")
    return K_MARINE_OHM_CMIL_PER_FT * load_a * (copper_m / FOOT_M) / allowed_v


def thinnest_awg(least_cmil: float) -> int:
    """The thinnest even gauge with at least so many circular mils, 1/0 being 0 and 4/0 -3.

    Even gauges only, down to 2 AWG, are what is drawn and sold (common practice). BadQuantity over 4/0.

    >>> thinnest_awg(6271)
    12
    """
    sold: tuple[int, ...] = (*range(THINNEST_AWG, 1, -2), 1, 0, -1, -2, -3)
    for number in sold:
        if circular_mils(awg_section_m2(number)) >= least_cmil:
            return number
    raise BadQuantity(
        f"{least_cmil:.0f} circular mils is more than 4/0 AWG has", "Shorten the lead or divide its load."
    )


def k_form_drop_v(load_a: float, one_way_m: float, cmil: float) -> float:
    """Volts lost along a lead of two like cores of so many circular mils, warm.

        VD = 2 K I L / CM        K = 12.9 ohm circular mil / ft, L one way in feet

    Source: the form of licence examinations (common practice); K is copper at 75 degC.

    >>> round(k_form_drop_v(20.0, 100 * 0.3048, 6530), 2)
    7.9
    """
    if not cmil > 0.0:
        raise BadQuantity(
            f"{cmil:g} circular mils is no core", "Give a section greater than 0 circular mils."
        )
    return 2.0 * K_CODE_OHM_CMIL_PER_FT * load_a * (one_way_m / FOOT_M) / cmil


def advised_drop_v(nominal_v: float, use: str) -> tuple[float, str]:
    """(volts, source): what a text advises to lose at most between the source and the load.

    The texts are written for mains. The house's own limit is a house rule; these stand beside it.

    >>> advised_drop_v(24.0, "branch circuit")[0]
    0.72
    """
    if use not in DROP_ADVICE:
        raise BadQuantity(f"no text advises on {use!r}", f"Use one of: {'; '.join(DROP_ADVICE)}.")
    share, source = DROP_ADVICE[use]
    return nominal_v * share, source
