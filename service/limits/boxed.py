"""Supplies that stand in boxes: what each may carry in the air that its own load and its neighbours make."""

from collections.abc import Iterable
from dataclasses import replace

from service.electrical.power.boxes import DECODER_LOSS_SHARE, Box, BoxState, Derating, Vent, box_state
from service.errors import BadQuantity
from service.limits.blanks import listed
from service.limits.facts import BoxFacts, DecoderFacts, SupplyFacts
from service.limits.lookup import Lookup, RunOf


def box_of(supply: SupplyFacts, around: Lookup) -> BoxFacts | None:
    """The box it stands in; one of which nothing was entered has every figure blank."""
    if not supply.enclosure or supply.kind == "battery":
        return None
    blank = BoxFacts(supply.enclosure, "", Vent.SEALED.value, None, None, None)
    return next((box for box in around.show.boxes if box.tag == supply.enclosure), blank)


def blanks_of(box: BoxFacts, supply: SupplyFacts) -> str:
    """Which figures are not entered, in words; empty where all are."""
    figures = {
        "the watts on its plate": supply.rated_w,
        "its efficiency": supply.mains.efficiency,
        "Full to": supply.curve.full_to_degc,
        "Derate": supply.curve.derate_per_k,
        "Hottest": supply.curve.max_degc,
        f"the area of {box.tag}": box.area_m2,
        f"the heat {box.tag} lets through": box.k_w_per_m2_k,
        f"the air outside {box.tag}": box.ambient_degc,
        f"the air its fan moves through {box.tag}": box.fan_m3_per_h if box.vent == Vent.FAN else 0.0,
    }
    blank = [name for name, figure in figures.items() if figure is None]
    return listed(blank) if blank else ""


def state_of(supply: SupplyFacts, box: BoxFacts, load_w: float, around: Lookup) -> BoxState | str:
    """The box with that load on the supply and its neighbours as they are; else which figure is wanting."""
    if blank := blanks_of(box, supply):
        return blank
    other_w = _other_heat_w(supply, around)
    if other_w is None:
        return f"the efficiency of another supply in {box.tag}"
    try:
        return _state(supply, box, load_w, other_w, DECODER_LOSS_SHARE * _share_through(supply, around))
    except BadQuantity as refusal:  # a figure was entered that no box or supply has
        return refusal.message


def _state(
    supply: SupplyFacts, box: BoxFacts, load_w: float, other_w: float, decoder_loss_share: float
) -> BoxState:
    return box_state(
        Box(box.area_m2, box.k_w_per_m2_k, box.ambient_degc, Vent(box.vent), box.fan_m3_per_h),
        Derating(
            supply.rated_w,
            supply.mains.efficiency,
            supply.curve.full_to_degc,
            supply.curve.derate_per_k,
            supply.curve.max_degc,
            supply.load_factor,
        ),
        load_w,
        other_w,
        decoder_loss_share,
    )


def limit_w(supply: SupplyFacts, load_w: float, around: Lookup) -> float | None:
    """What it may carry for hours with that load on it; None where that is not known.

    In open air that does not depend on the load. In a box it does: more load, more heat, a lower limit.
    """
    box = box_of(supply, around)
    if box is None:
        return supply.limit_w
    state = state_of(supply, box, load_w, around)
    if isinstance(state, str) or supply.limit_w is None:
        return None
    return min(supply.limit_w, state.limit_w)


def vented(box: BoxFacts) -> BoxFacts:
    return replace(box, vent=Vent.VENTED.value)


def _other_heat_w(supply: SupplyFacts, around: Lookup) -> float | None:
    """Heat of every other supply in the box, and of decoders there that it does not feed itself."""
    heat_w = 0.0
    for other in around.show.supplies:
        if other.enclosure == supply.enclosure and other.tag != supply.tag and other.load_w:
            if other.mains.efficiency is None:
                return None
            heat_w += other.load_w / other.mains.efficiency - other.load_w
    for decoder in _decoders_in(supply.enclosure, around):
        fed_w = _load_w(
            found for found in around.runs_of_decoder(decoder.tag) if _source(found) != supply.tag
        )
        heat_w += (decoder.idle_w or 0.0) + DECODER_LOSS_SHARE * fed_w
    return heat_w


def _decoders_in(tag: str, around: Lookup) -> list[DecoderFacts]:
    return [d for d in around.show.decoders if d.enclosure == tag]


def _source(found: RunOf) -> str:
    return found.run.feed.supply if found.run.feed is not None else ""


def _load_w(runs: Iterable[RunOf]) -> float:
    return sum(f.element.tape.w_per_m * f.run.length_m for f in runs if f.element.tape is not None)


def _share_through(supply: SupplyFacts, around: Lookup) -> float:
    """Share of the supply's load that goes through decoders in its own box; all of it while it has none."""
    if not supply.load_w:
        return 1.0
    inside = {d.tag for d in _decoders_in(supply.enclosure, around)}
    runs = around.runs_of_supply(supply.tag)
    through_w = _load_w(f for f in runs if f.run.feed is not None and f.run.feed.decoder in inside)
    return min(1.0, through_w / supply.load_w)
