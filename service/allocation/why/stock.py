"""Whether units of the kinds that would do are there, in reach, and have room beside a plan."""

from collections.abc import Sequence

from service.allocation.change.room import BankRoom, Room, Row
from service.allocation.problem import DecoderModel, Problem, SupplyModel, Unit
from service.allocation.why.kinds import Kinds, Reason, Side, supply_wanted
from service.allocation.why.leads import out_of_reach, too_far
from service.allocation.why.words import amps, any_of, counted, pair, said


def none_owned(problem: Problem, row: Row, kinds: Kinds) -> Reason | None:
    """Kinds that would do exist, but the production has no unit of any."""
    if kinds.given is not Side.SUPPLY and not _owned(problem.supplies, kinds.supplies):
        return _supply_stock(row, kinds, 0)
    if row.channels and kinds.given is not Side.DECODER and not _owned(problem.decoders, kinds.decoders):
        return _decoder_stock(row, kinds)
    return None


def _owned(units: Sequence[Unit], kinds: Sequence[SupplyModel] | Sequence[DecoderModel]) -> bool:
    able = {model.tag for model in kinds}
    return any(unit.model in able for unit in units)


def none_in_reach(problem: Problem, row: Row, kinds: Kinds) -> Reason | None:
    """Units that would do stand where the block may not be fed from, or not together."""
    at = [*row.sites]
    if not row.block.sites:
        because = "no place is named that it may be fed from"
        return Reason("site", None, None, "", because, "say where its gear may stand")
    if not at:
        return out_of_reach(row)
    supplies, decoders = {m.tag for m in kinds.supplies}, {m.tag for m in kinds.decoders}
    racks = {unit.tag: unit.site for unit in problem.supplies if unit.model in supplies}
    boxes = {unit.tag: unit.site for unit in problem.decoders if unit.model in decoders}
    asked = [] if kinds.given is Side.SUPPLY else [racks]
    asked += [boxes] if row.channels and kinds.given is not Side.DECODER else []
    for gear in asked:
        if not any(site in ("", *at) for site in gear.values()):
            tag, site = min(gear.items())
            return _wrong_site(row, f"{tag} stands at {site or 'no place'}", tag)
    if len(asked) < 2:
        return None
    together = {site for site in at if any(s in ("", site) for s in racks.values())}
    if not any(any(s in ("", site) for s in boxes.values()) for site in together):
        return _wrong_site(row, "no supply and decoder stand together there", min(boxes))
    return None


def _wrong_site(row: Row, because: str, tag: str) -> Reason:
    named = any_of(row.sites)
    because = "; ".join([f"may be fed from {named}, and {because}", *too_far(row)])
    return Reason("site", None, None, "", because, f"move {tag} to {named}")


def nothing_left(room: Room, row: Row, kinds: Kinds) -> Reason | None:
    """What is left does not do: no supply, no decoder, or not both together; None if it does after all."""
    most_uw = _most_left_uw(room, row, kinds)
    if kinds.given is not Side.SUPPLY and most_uw < row.load_uw:
        return _supply_stock(row, kinds, most_uw)
    if row.channels and kinds.given is not Side.DECODER:
        banks = [bank for _, bank in room.banks_for(row) if bank.gap(row.channels) is not None]
        if kinds.given is Side.SUPPLY:
            banks = [bank for bank in banks if _may_be_fed(room, row, bank)]
        if not banks:
            return _decoder_stock(row, kinds)
    return _packing(room, row, kinds, most_uw) if kinds.given is None else None


def _most_left_uw(room: Room, row: Row, kinds: Kinds) -> int:
    """The most watts left on one output that would do."""
    able = {model.tag for model in kinds.supplies}
    outputs = [
        rack.left_uw(output)
        for rack in room.racks.values()
        if rack.model.tag in able and rack.site in ("", *row.sites)
        for output in range(1, len(rack.outputs_uw) + 1)
    ]
    return max(outputs, default=0)


def _may_be_fed(room: Room, row: Row, bank: BankRoom) -> bool:
    """A new supply could feed it, or the one that does has the watts."""
    if bank.output is None:
        return True
    supply, output = bank.output
    return supply in room.racks and room.racks[supply].left_uw(output) >= row.load_uw


def _supply_stock(row: Row, kinds: Kinds, best_uw: int) -> Reason:
    need_w, best_w = row.load_uw / 1e6, max(best_uw, 0) / 1e6
    need, best = pair(need_w, best_w)
    cheapest = min(kinds.supplies, key=lambda model: (model.cost, model.tag))
    room = f"; the most left on one output is {best} W" if best_w > 0 else ""
    because = f"needs 1 of {any_of(m.tag for m in kinds.supplies)} ({need} W); 0 left{room}"
    mend = f"one more {cheapest.tag}, or {supply_wanted(row, kinds.shares)}"
    return Reason("supply-stock", need_w, best_w, "W", because, mend, Side.SUPPLY, is_size=True)


def _decoder_stock(row: Row, kinds: Kinds) -> Reason:
    cheapest = min(kinds.decoders, key=lambda model: (model.cost, model.tag))
    each = f"{counted(row.channels, 'channel')} × {said(amps(row.peak_uw, row.block.class_mv))} A"
    because = f"needs 1 of {any_of(m.tag for m in kinds.decoders)} ({each}); 0 left"
    return Reason("decoder-stock", 1.0, 0.0, "", because, f"one more {cheapest.tag}", Side.DECODER)


def _packing(room: Room, row: Row, kinds: Kinds, most_uw: int) -> Reason:
    need_w, most_w = row.load_uw / 1e6, most_uw / 1e6
    if room.places(row):
        because = f"{said(need_w)} W would fit, but the search ended before it was placed"
        return Reason("packing", need_w, most_w, "W", because, "allocate again with more effort")
    offers = []
    if row.channels:
        offers.append(min(kinds.decoders, key=lambda model: (model.cost, model.tag)).tag)
    if not row.channels or any(
        bank.output is None and bank.gap(row.channels) is not None for _, bank in room.banks_for(row)
    ):
        # A bank that hangs on a full supply is not helped by another supply.
        offers.append(min(kinds.supplies, key=lambda model: (model.cost, model.tag)).tag)
    because = (
        f"{said(need_w)} W: one output has {said(most_w)} W left and a bank has "
        f"{counted(row.channels, 'channel')} left, but not on the same"
    )
    return Reason("packing", need_w, most_w, "W", because, f"one more {' or '.join(offers)}")
