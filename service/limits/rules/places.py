"""Where things stand: outlets, and pieces that move."""

from service.limits import cautions
from service.limits.facts import DecoderFacts, ElementFacts, SupplyFacts
from service.limits.findings import Finding, Harm, Mend, Rule, Verdict, about
from service.limits.lookup import Lookup
from service.limits.mends.acts import Replug
from service.limits.mends.feeds import MOVING_LINKS, ride_along

MOTIONS = frozenset({"static", "rolling", "flown", "turntable", "prop", "costume"})

DIMMED_CIRCUIT = Rule(
    "dimmed-circuit",
    "No supply hangs on a dimmed circuit",
    9,
    Harm.DARK,
    "supply",
    "common practice: a chopped wave makes a supply hum, restart and die; the maker's sheet may allow it",
    cautions.MAINS,
)
MOVING = Rule(
    "moving",
    "What moves carries its own feed",
    10,
    Harm.DARK,
    "element",
    "common practice: fed from what rides on it, unless a travelling cable goes with it",
    cautions.MOVING,
)
COSTUME = Rule(
    "costume",
    "A costume is fed from a battery only",
    10,
    Harm.FIRE,
    "element",
    "common practice",
    cautions.WEARER,
)


def dimmed_circuit(supply: SupplyFacts, around: Lookup) -> Finding | None:
    """A supply's outlet is constant or a relay, never a dimmer, whatever the dimmer is set to."""
    if supply.kind == "battery":
        return None
    what = about(supply.tag, supply.tag, (load.element for o in supply.outputs for load in o.loads))
    kinds = {o.tag: o.kind for o in around.show.outlets}
    kind = supply.outlet_kind or kinds.get(supply.outlet or "")
    if supply.outlet is None and kind is None:
        return DIMMED_CIRCUIT.unknown(what, "the outlet it is plugged into", "the circuit")
    if kind is None:
        return DIMMED_CIRCUIT.unknown(
            what, f"what kind of circuit {supply.outlet} is", "constant, relay or dimmed"
        )
    if kind != "dimmed":
        return DIMMED_CIRCUIT.ok(what, f"{supply.tag} is on {supply.outlet or 'an outlet'}, {kind}")
    into = supply.outlet or "a circuit"
    message = f"{supply.tag} is plugged into {into}, which is dimmed: it hums, restarts and dies"
    return DIMMED_CIRCUIT.finding(Verdict.OVER, what, message, None, _constant_outlet(supply, around))


def _constant_outlet(supply: SupplyFacts, around: Lookup) -> Mend:
    outlets = [o for o in around.show.outlets if o.kind != "dimmed"]
    if not outlets:
        return Mend("plug it into a constant circuit, or park the dimmer as a relay if its maker allows that")
    best = min(outlets, key=lambda o: (o.kind != "constant", len(o.supplies), o.tag))
    count = f"{len(best.supplies)} {'supply' if len(best.supplies) == 1 else 'supplies'}"
    breaker = "" if best.breaker_a is None else f", {best.breaker_a:g} A, with {count} on it"
    return Mend(f"plug it into {best.tag} ({best.kind}{breaker})", acts=(Replug(supply.tag, best.tag),))


def moving(element: ElementFacts, around: Lookup) -> Finding | None:
    """A piece that moves without a travelling cable is fed, and told, by what rides on it."""
    what = about(element.tag, element.tag, [element.tag])
    if element.motion not in MOTIONS:
        return MOVING.unknown(what, "whether it moves", "static, rolling, flown, turntable, prop or costume")
    feeds = [r.feed for r in element.runs if r.feed is not None]
    if not element.is_moving or not feeds:
        return None
    if element.travelling_cable:
        return MOVING.ok(what, f"{element.tag} moves with a travelling cable")
    held: list[str] = []
    for tag in sorted({f.supply for f in feeds}):
        supply = around.supplies.get(tag)
        if supply is None or supply.is_placeholder:
            return MOVING.unknown(what, f"where {tag} stands", "the unit, and what it rides on")
        held += [] if supply.scenic_unit == element.scenic_unit else [f"{tag} stands on {_stand(supply)}"]
    for tag in sorted({f.decoder for f in feeds if f.decoder is not None}):
        held += _decoder_holds(element, around.decoders.get(tag))
    if not held:
        return MOVING.ok(what, f"{element.tag} is fed by what rides on {element.scenic_unit}")
    message = (
        f"{element.tag} is on {element.scenic_unit}, which is {element.motion} and has no travelling cable, "
        f"but {' and '.join(held)}: the first move tears the lead out"
    )
    return MOVING.finding(Verdict.OVER, what, message, None, ride_along(element, around))


def _decoder_holds(element: ElementFacts, decoder: DecoderFacts | None) -> list[str]:
    if decoder is None or decoder.is_placeholder:
        return []
    if decoder.scenic_unit != element.scenic_unit:
        return [f"{decoder.tag} stands on {_stand(decoder)}"]
    return [] if decoder.link in MOVING_LINKS else [f"{decoder.tag} takes a control cable"]


def _stand(thing: SupplyFacts | DecoderFacts) -> str:
    return thing.scenic_unit or thing.place or "the deck"


def costume(element: ElementFacts, around: Lookup) -> Finding | None:
    """Nobody wears a lead from a supply on the mains."""
    tags = sorted({r.feed.supply for r in element.runs if r.feed is not None})
    if element.motion != "costume" or not tags:
        return None
    what = about(element.tag, element.tag, [element.tag])
    unknown = [tag for tag in tags if tag not in around.supplies]
    if unknown:
        return COSTUME.unknown(what, f"what {unknown[0]} is", "whether it is a battery")
    wired = [tag for tag in tags if around.supplies[tag].kind != "battery"]
    if not wired:
        return COSTUME.ok(what, f"{element.tag} is worn and fed by {' and '.join(tags)}")
    message = f"{element.tag} is worn and is fed by {' and '.join(wired)}, which is on the mains"
    return COSTUME.finding(Verdict.OVER, what, message, None, ride_along(element, around))
