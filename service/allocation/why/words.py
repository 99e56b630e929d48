"""Figures as people read them: what is needed, what a label must say for it, and how many of what."""

from collections.abc import Iterable
from decimal import ROUND_CEILING, Decimal


def said(value: float) -> str:
    """A figure with as many places as it needs, three at most."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def pair(value: float, bound: float) -> tuple[str, str]:
    """Two figures that still differ when they are read."""
    if said(value) == said(bound) and value != bound:
        return f"{value:.6f}", f"{bound:.6f}"
    return said(value), said(bound)


def counted(count: int, word: str) -> str:
    """
    >>> counted(1, "channel"), counted(2, "channel")
    ('1 channel', '2 channels')
    """
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def any_of(tags: Iterable[str]) -> str:
    """Names in a row, each once."""
    named = sorted(set(tags))
    return named[0] if len(named) == 1 else f"{', '.join(named[:-1])} or {named[-1]}" if named else "none"


def volts(class_mv: int) -> str:
    """The voltage class, with its unit."""
    return f"{said(class_mv / 1000)} V"


def amps(load_uw: int, class_mv: int) -> float:
    """Current of a load at its voltage class, in A."""
    return load_uw / (class_mv * 1000)


def micro_amps(load_uw: int, class_mv: int) -> int:
    """The same in whole µA, rounded up: what must be carried."""
    return -(-load_uw * 1000 // class_mv)


def at_least(needed: int, unit: str, share: float) -> str:
    """What a label must say so that its share carries so many µW or µA; both are said where they differ.

    `share`: what the house lets a label carry for hours, from 0 to 1. Figures are rounded up.

    >>> at_least(92_160_000, "W", 0.8)
    'at least 115.2 W on the label (92.16 W at 0.80)'
    >>> at_least(92_160_000, "W", 1.0)
    'at least 92.16 W'
    """
    name = unit.partition(" ")[0]
    if share == 1.0:
        return f"at least {_up(needed)} {unit}"
    label = int((needed / Decimal(str(share))).to_integral_value(ROUND_CEILING))
    places = max(2, len(said(share).partition(".")[2]))
    return f"at least {_up(label)} {unit} on the label ({_up(needed)} {name} at {share:.{places}f})"


def _up(micro: int) -> str:
    return said(-(-micro // 1000) / 1000)
