"""A start address that clears a clash or the end of a universe."""

from service.control.addresses import first_fit, fits, free_start, is_universe
from service.limits.facts import PatchFacts
from service.limits.findings import Mend
from service.limits.lookup import Lookup, span_of
from service.limits.mends.acts import Readdress


def new_start(patch: PatchFacts, around: Lookup) -> Mend | None:
    """The first free start for it in its own universe, or else in the next that has room.

    `value_after` is the last slot it would take.
    """
    span = span_of(patch)
    if span is None or not fits(1, span.footprint):
        return None
    others = around.spans_but(patch)
    universe = span.universe if is_universe(span.universe) else 1
    start = free_start(universe, span.footprint, others)
    if start is None:
        [(universe, start)] = first_fit([span.footprint], others, universe)
    end = start + span.footprint - 1
    text = f"start {span.owner} at {start}: slots {start}-{end} of universe {universe} are free for it"
    later = free_start(universe, span.footprint, others, from_slot=end + 1)
    if later is not None and later > end + 1:
        text += f"; the next place after that is {later}"
    return Mend(text, float(end), 512.0, (Readdress(patch.decoder, patch.port, universe, start),))
