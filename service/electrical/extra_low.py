"""Extra-low voltage: what a marking on a supply allows, and how many volts may be touched, dry and wet.

Only a listed and marked source makes a limited circuit; few watts do not. Which text applies is for a
licensed person to say. Volts here are direct current.
"""

from dataclasses import dataclass
from enum import StrEnum

from service.errors import BadQuantity

# NFPA 70 (2017) Ch. 9 Table 11(B): the bands end at these volts, which belong to the band below.
CLASS_2_LOW_V, CLASS_2_MIDDLE_V, CLASS_2_MAX_V = 20.0, 30.0, 60.0

# Table 11(B) Note 4: volts where wet contact is likely, immersion not meant; peak volts if the current is
# interrupted 10 to 200 times a second, dry and wet.
WET_V, WET_INTERRUPTED_V, DRY_INTERRUPTED_V = 30.0, 12.4, 24.8
INTERRUPTED_HZ = (10.0, 200.0)

# Scope of UL 1310: the most that a Class 2 power unit gives out, continuous dc and peak ac.
CLASS_2_UNIT_DC_V, CLASS_2_UNIT_AC_PEAK_V = 60.0, 42.4

# Ripple-free dc. Limit of SELV, IEV / IEC 61558-1; parts that may be touched bare, dry and in damp places or
# with other luminaires than ordinary ones, IEC 60598-1:2008 clause 8.2.3.
SELV_MAX_V, BARE_DRY_V, BARE_DAMP_V = 120.0, 60.0, 30.0

# Low-voltage lighting, NFPA 70 (2017) 411.1, 411.3, 411.6, 411.7.
LIGHTING_MAX_V, LIGHTING_WET_V, LIGHTING_OUTPUT_A, LIGHTING_BRANCH_A = 60.0, 30.0, 25.0, 20.0

# Watts that leave an enclosure under light wiring rules. From memory, after Class 2.
LIGHT_WIRING_VA = 100.0

_SLACK = 1e-9
_TABLE_11 = "NFPA 70 (2017) Ch. 9 Table 11(B)"


class Marking(StrEnum):
    """What is marked on a supply, or asked of it. The circuit rules that go with it are for the code."""

    CLASS_2 = "class 2"  # inherently limited
    CLASS_2_DEVICE = "class 2 with overcurrent device"  # not inherently limited
    LIMITED_SOURCE = "limited power source"


@dataclass(frozen=True, slots=True)
class Allowed:
    """What a marking allows at one voltage: `nameplate_*` the plate may say, `most_*` the supply may give.

    `device_a`: greatest overcurrent device; `most_va`: volt-amperes that it may give; None: no such figure.
    """

    marking: Marking
    nameplate_va: float
    nameplate_a: float
    most_a: float
    source: str
    device_a: float | None = None
    most_va: float | None = None


def allowed(marking: Marking, volts: float) -> Allowed:
    """What a supply with that marking may give at its open-circuit voltage.

        Class 2, inherently limited    to 20 V: 5.0 V VA, 5.0 A, at most 8.0 A
                                       to 30 V: 100 VA, 100 / V A, at most 8.0 A
                                       to 60 V: 100 VA, 100 / V A, at most 150 / V A
        with an overcurrent device     the same plate; at most 1000 / V A and 250 VA; device 5.0 A to 20 V,
                                       100 / V A to 60 V
        limited power source           5 V VA to 20 V, then 100 VA; 8.0 A to 30 V, then 150 / V A

    Below 20 V the plate allows less than 100 VA: at 5 V it is 25.

    Source: NFPA 70 (2017) Ch. 9 Table 11(B); IEC 60950-1 Table 2B for the limited power source.
    Holds for: more than 0 to 60 V dc, dry; BadQuantity outside.

    >>> found = allowed(Marking.CLASS_2, 24.0)
    >>> found.nameplate_va, round(found.nameplate_a, 3), found.most_a
    (100.0, 4.167, 8.0)
    >>> allowed(Marking.CLASS_2, 5.0).nameplate_va
    25.0
    """
    if not 0.0 < volts <= CLASS_2_MAX_V:
        raise BadQuantity(
            f"no {marking} supply gives {volts:g} V dc",
            f"Give more than 0 and at most {CLASS_2_MAX_V:g} V dc.",
        )
    plate_va = 5.0 * volts if volts <= CLASS_2_LOW_V else 100.0
    plate_a = 5.0 if volts <= CLASS_2_LOW_V else 100.0 / volts
    inherent_a = 8.0 if volts <= CLASS_2_MIDDLE_V else 150.0 / volts
    if marking is Marking.CLASS_2:
        return Allowed(marking, plate_va, plate_a, inherent_a, _TABLE_11)
    if marking is Marking.CLASS_2_DEVICE:
        return Allowed(marking, plate_va, plate_a, 1000.0 / volts, _TABLE_11, plate_a, 250.0)
    return Allowed(marking, plate_va, plate_va / volts, inherent_a, "IEC 60950-1 Table 2B", most_va=plate_va)


def is_class_2_unit(dc_v: float = 0.0, ac_peak_v: float = 0.0) -> bool:
    """Whether a power unit of that output can be a Class 2 unit at all.

        dc <= 60 V continuous,  ac <= 42.4 V peak

    Source: scope of UL 1310.

    >>> is_class_2_unit(dc_v=60.0), is_class_2_unit(ac_peak_v=42.5)
    (True, False)
    """
    return dc_v <= CLASS_2_UNIT_DC_V and ac_peak_v <= CLASS_2_UNIT_AC_PEAK_V


def contact_limit_v(is_wet: bool, interrupted_hz: float | None = None) -> float:
    """The most volts of a Class 2 circuit where skin may meet it; peak volts if interrupted.

        dry 60, wet 30;  interrupted 10 to 200 times a second: dry 24.8, wet 12.4

    Pulse-width dimming interrupts the current: below 200 Hz it halves what may be touched and more. None,
    or another frequency: as continuous. Wet is likely contact, not immersion: sweat, rain, a wet deck.

    Source: NFPA 70 (2017) Ch. 9 Table 11(B) and its Note 4. BadQuantity for a frequency that is not above
    zero.

    >>> contact_limit_v(is_wet=True), contact_limit_v(is_wet=True, interrupted_hz=120.0)
    (30.0, 12.4)
    """
    if interrupted_hz is not None:
        if not interrupted_hz > 0.0:
            raise BadQuantity(
                f"nothing is interrupted at {interrupted_hz:g} Hz", "Give more than 0 Hz, or none."
            )
        if INTERRUPTED_HZ[0] <= interrupted_hz <= INTERRUPTED_HZ[1]:
            return WET_INTERRUPTED_V if is_wet else DRY_INTERRUPTED_V
    return WET_V if is_wet else CLASS_2_MAX_V


def bare_part_limit_v(is_damp: bool) -> float:
    """The most volts on a bare part that may be touched, ripple-free dc, from a safety transformer.

    Source: IEC 60598-1:2008 clause 8.2.3; `is_damp` for damp places and luminaires other than ordinary.
    SELV itself goes to 120 V (IEV, IEC 61558-1), insulated.

    >>> bare_part_limit_v(is_damp=False), bare_part_limit_v(is_damp=True)
    (60.0, 30.0)
    """
    return BARE_DAMP_V if is_damp else BARE_DRY_V


def parallel_fault(outputs: int, is_listed_for_it: bool = False) -> str:
    """Why so many Class 2 outputs may not feed one circuit; empty where they may.

    Source: NFPA 70 (2017) 725.121(B).

    >>> parallel_fault(1), parallel_fault(2, is_listed_for_it=True)
    ('', '')
    """
    if outputs < 1:
        raise BadQuantity(f"{outputs} outputs feed nothing", "Give 1 or more.")
    if outputs == 1 or is_listed_for_it:
        return ""
    return f"{outputs} Class 2 outputs may not be tied together unless they are listed for it"


@dataclass(frozen=True, slots=True)
class Lighting:
    """A low-voltage lighting system as it is built."""

    volts: float
    output_a: float
    branch_a: float
    is_wet: bool = False
    is_secondary_grounded: bool = False
    is_isolating: bool = True
    is_listed: bool = True


def lighting_faults(system: Lighting) -> tuple[str, ...]:
    """Every way in which a system falls outside the article on low-voltage lighting; empty where it does not.

        60 V dc, 30 V where wet contact is likely;  25 A an output;  20 A the branch circuit;  isolating
        supply, secondary not grounded, listed parts

    Source: NFPA 70 (2017) 411.1, 411.3, 411.4, 411.6, 411.7.

    >>> lighting_faults(Lighting(24.0, 16.0, 20.0))
    ()
    >>> lighting_faults(Lighting(48.0, 16.0, 20.0, is_wet=True))
    ('48 V where wet contact is likely; the most is 30 V dc',)
    """
    most_v = LIGHTING_WET_V if system.is_wet else LIGHTING_MAX_V
    where = " where wet contact is likely" if system.is_wet else ""
    return _said(
        (system.volts > most_v + _SLACK, f"{system.volts:g} V{where}; the most is {most_v:g} V dc"),
        (
            system.output_a > LIGHTING_OUTPUT_A + _SLACK,
            f"an output of {system.output_a:g} A; the most is {LIGHTING_OUTPUT_A:g} A",
        ),
        (
            system.branch_a > LIGHTING_BRANCH_A + _SLACK,
            f"a branch circuit of {system.branch_a:g} A; the most is {LIGHTING_BRANCH_A:g} A",
        ),
        (system.is_secondary_grounded, "the secondary is grounded"),
        (not system.is_isolating, "the supply does not isolate"),
        (not system.is_listed, "parts are not listed"),
    )


def heavy_wiring(volts: float, available_va: float) -> tuple[str, ...]:
    """Why an output is not to leave its enclosure without a fuse on every lead; empty where it is light.

        at most 100 VA and at most 60 V dc

    `available_va` is what the output can give, not what is put on it. Without a mark the circuit is not
    Class 2, however few its watts.

    Source: after NFPA 70 (2017) Ch. 9 Table 11(B); from memory, check the adopted code.

    >>> heavy_wiring(24.0, 320.0)
    ('320 VA; light wiring ends at 100 VA',)
    """
    if not (volts > 0.0 and available_va >= 0.0):
        raise BadQuantity(
            f"an output of {volts:g} V and {available_va:g} VA", "Give more than 0 V, and 0 VA or more."
        )
    return _said(
        (volts > CLASS_2_MAX_V + _SLACK, f"{volts:g} V; light wiring ends at {CLASS_2_MAX_V:g} V dc"),
        (
            available_va > LIGHT_WIRING_VA + _SLACK,
            f"{available_va:g} VA; light wiring ends at {LIGHT_WIRING_VA:g} VA",
        ),
    )


def _said(*faults: tuple[bool, str]) -> tuple[str, ...]:
    return tuple(text for is_so, text in faults if is_so)
