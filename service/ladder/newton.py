"""For the few runs that rounds of amps and volts do not settle: Newton's steps in a Krylov space.

Source: Newton's method with a line search; GMRES of Saad and Schultz (1986), from memory. The operator is a
running sum over the run and compact, so that a handful of directions is enough whatever the length.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from service.ladder.loads import Loads
from service.ladder.rails import Array, Rails

SETTLED_V = 1e-9
STEPS, DIRECTIONS, HALVINGS = 50, 60, 12
# A load of constant power has two states; below half of the supply only the one that cannot last is left.
STABLE_SHARE = 0.5


def newton(rails: Rails, loads: Loads) -> Array | None:
    """The volts across each load of the runs on one lead; None if there are none that last."""
    supply_v = rails.supply_v[:, None, None]
    volts = np.broadcast_to(supply_v, loads.nominal_a.shape).copy()

    def off(at: Array) -> Array:
        return at - rails.volts(loads.amps(at))

    wrong = off(volts)
    for _ in range(STEPS):
        if float(np.abs(wrong).max()) < SETTLED_V:
            return None if is_spent(rails, loads, volts).any() else volts
        slopes = loads.slopes(volts)
        step = gmres(lambda way, slopes=slopes: way + rails.lost(slopes * way), -wrong)  # type: ignore[misc]
        size = float(np.linalg.norm(wrong))
        for halving in range(HALVINGS):
            tried = volts + step * 0.5**halving
            wrong = off(tried)
            if float(np.linalg.norm(wrong)) < size:
                break
        else:
            return None
        volts = tried
    return None


def is_spent(rails: Rails, loads: Loads, volts: Array) -> NDArray[np.bool_]:
    """Runs with a load of constant power in a state that cannot last."""
    low = volts < STABLE_SHARE * rails.supply_v[:, None, None]
    low &= (loads.is_power > 0.0) & (loads.nominal_a > 0.0)
    return np.asarray(low.any(axis=(1, 2)))


def gmres(operator: Callable[[Array], Array], wanted: Array) -> Array:
    """What the operator turns into `wanted`, to about thirteen digits or as near as the directions allow."""
    size = float(np.linalg.norm(wanted))
    if size == 0.0:
        return np.zeros_like(wanted)
    basis = [wanted / size]
    table = np.zeros((DIRECTIONS + 1, DIRECTIONS))
    aim = np.zeros(DIRECTIONS + 1)
    aim[0] = size
    shares: Array = np.zeros(0)
    for column in range(DIRECTIONS):
        way = operator(basis[column])
        for row, known in enumerate(basis):
            table[row, column] = float((known * way).sum())
            way = way - table[row, column] * known
        table[column + 1, column] = float(np.linalg.norm(way))
        part = table[: column + 2, : column + 1]
        shares = np.asarray(np.linalg.lstsq(part, aim[: column + 2], rcond=None)[0], np.float64)
        left = float(np.linalg.norm(part @ shares - aim[: column + 2]))
        if left < 1e-13 * size or table[column + 1, column] < 1e-14 * size:
            break
        basis.append(way / table[column + 1, column])
    found = np.zeros_like(wanted)
    for share, known in zip(shares, basis, strict=False):
        found += share * known
    return found
