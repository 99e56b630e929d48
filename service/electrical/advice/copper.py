"""The least copper that will do."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from service.electrical.advice.cases import Case, Limits, Wire, breaks


@dataclass(frozen=True, slots=True)
class Copper:
    """The wire that was found, the case with it, and why each thinner one would not do."""

    case: Case | None
    refused: tuple[tuple[Wire, tuple[str, ...]], ...]


def least_copper(case: Case, limits: Limits, shelf: Iterable[Wire]) -> Copper:
    """The thinnest wire of the shelf with which amps and drop are kept and a standard fuse protects it.

    A wire whose limit nobody knows is refused: it says so as "lead limit unknown".

    Source: Ohm's law, the limit each wire brings and the fuse it lets be; thinnest: most ohms a metre.

    >>> from service.electrical.gauges import awg
    >>> from service.electrical.advice.cases import wire_of
    >>> from service.electrical.tape import FeedStyle, Rails
    >>> tape = Rails(24.0, 0.025, (4.8,) * 4, (0.050,) * 4)
    >>> case = Case(tape, 80, 0.1, FeedStyle.BOTH, wire_of(awg(22)), 12.0)
    >>> found = least_copper(case, Limits(0.05), [wire_of(awg(n)) for n in (22, 20, 18, 16, 14)])
    >>> found.case.wire.text, [(wire.text, why) for wire, why in found.refused][:2]
    ('16 AWG', [('22 AWG', ('drop', 'lead amps', 'fuse')), ('20 AWG', ('drop',))])
    """
    refused = list[tuple[Wire, tuple[str, ...]]]()
    for wire in sorted(shelf, key=lambda wire: (-wire.ohm_per_m, wire.text)):
        with_wire = replace(case, wire=wire)
        broken = breaks(with_wire, limits)
        if wire.limit_a is None:
            broken = (*broken, "lead limit unknown")
        if not broken:
            return Copper(with_wire, tuple(refused))
        refused.append((wire, broken))
    return Copper(None, tuple(refused))
