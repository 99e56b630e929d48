"""Supplies: what is left of the rating in warm air and for long sessions."""


def ambient_factor(ambient_degc: float, full_to_degc: float, derate_per_k: float, max_degc: float) -> float:
    """Share of the rated watts left in air of that temperature.

        f = 1 up to full_to;  1 - k (T - full_to) above it;  0 above max

    Source: the straight line between the two points of the maker's curve; the sheet wins.
    Holds for: the air around the case, not the room's; never below 0.

    >>> round(ambient_factor(54.2, 40.0, 0.025, 70.0), 3)
    0.645
    """
    if ambient_degc <= full_to_degc:
        return 1.0
    if ambient_degc > max_degc:
        return 0.0
    return max(0.0, 1.0 - derate_per_k * (ambient_degc - full_to_degc))


def usable_w(rated_w: float, ambient: float = 1.0, load_factor: float = 0.80) -> float:
    """Watts that may be loaded on for hours.

        P = rated * f(T) * load factor

    Source: common practice (80 %); the same idea as continuous load in NFPA 70 (2017) 210.20(A).
    The two factors multiply. House policy, not a code limit on a supply; the maker's sheet wins.

    >>> usable_w(320.0)
    256.0
    """
    return rated_w * ambient * load_factor


def output_limit_a(cap_a: float, load_factor: float = 0.80) -> float:
    """Amps one output may carry for hours.

        I = cap * load factor

    Source: common practice.

    >>> round(output_limit_a(13.3), 2)
    10.64
    """
    return cap_a * load_factor
