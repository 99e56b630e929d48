"""Batteries: the amps a pack may give. How long it lasts is another sum."""


def peak_limit_a(max_a: float) -> float:
    """Amps the pack may be asked for at any moment: the maker's figure, nothing taken off.

    Source: the maker's sheet. The pack's own protection opens above it and everything on it goes
    dark at once.

    >>> peak_limit_a(6.0)
    6.0
    """
    return max_a


def peak_a(load_w: float, class_v: float, idle_w: float = 0.0, efficiency: float = 1.0) -> float:
    """Amps out of the pack with everything at full.

        I = (P + idle) / efficiency / V

    Source: energy balance.

    >>> round(peak_a(24.0, 24.0, efficiency=0.90), 3)
    1.111
    """
    if not 0.0 < efficiency <= 1.0:
        raise ValueError("an efficiency lies above 0 and not above 1")
    return (load_w + idle_w) / efficiency / class_v
