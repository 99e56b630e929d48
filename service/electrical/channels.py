"""Decoder channels and banks: what a channel and a whole bank may carry."""

from collections.abc import Iterable


def channel_limit_a(rated_a: float, load_factor: float = 0.80) -> float:
    """Amps one channel may carry for hours.

        I = rated * load factor

    Source: common practice. A channel that fails is often stuck at full, so the room is worth having.

    >>> channel_limit_a(5.0)
    4.0
    """
    return rated_a * load_factor


def bank_limit_a(total_a: float, load_factor: float = 0.80) -> float:
    """Amps all channels with one power feed may carry together for hours.

        I = total * load factor

    Source: common practice.

    >>> bank_limit_a(15.0)
    12.0
    """
    return total_a * load_factor


def channel_a(emitter_amps: Iterable[float]) -> float:
    """Amps on one channel: the sum over everything wired to it.

    A level cap or a dimmed cue does not lower it: pulse-width dimming is full current while the
    pulse lasts (physics).

    >>> channel_a([3.0, 3.0])
    6.0
    """
    return sum(emitter_amps)
