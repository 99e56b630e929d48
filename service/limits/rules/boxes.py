"""Heat in boxes: a supply that holds on the bench and shuts down an hour into the show."""

from service.electrical.power.boxes import BoxState, Vent
from service.limits import cautions
from service.limits.boxed import box_of, state_of, vented
from service.limits.facts import BoxFacts, SupplyFacts
from service.limits.findings import (
    Figure,
    Finding,
    Harm,
    Mend,
    Rule,
    Verdict,
    about,
    compared,
    share_text,
)
from service.limits.lookup import Lookup
from service.limits.mends.moves import cool

BOX_HEAT = Rule(
    "box-heat",
    "Air in a closed box is cool enough for the supply",
    14,
    Harm.DARK,
    "supply",
    "energy balance: heat over area times what its walls let through; those figures are from memory, and a "
    "reading of the air beside it after two hours at full wins",
    cautions.HEAT,
)


def box_heat(supply: SupplyFacts, around: Lookup) -> Finding | None:
    """What the supply carries is within what it can give in the air that this load makes."""
    box = box_of(supply, around)
    if box is None or not supply.load_w:
        return None
    what = about(supply.tag, supply.tag, (load.element for o in supply.outputs for load in o.loads))
    state = state_of(supply, box, supply.load_w, around)
    if isinstance(state, str):
        return BOX_HEAT.unknown(what, f"how warm it gets in {box.tag}", f"it: {state}")
    figure = Figure(supply.load_w, state.limit_w, "W")
    said = (
        f"{supply.tag} carries {supply.load_w:.2f} W in {box.tag}, where that load makes "
        f"{state.inside_degc:.1f} °C of {box.ambient_degc:g} °C"
    )
    if compared(supply.load_w, state.limit_w) is Verdict.OK:
        share = share_text(supply.load_w, state.limit_w)
        end = (
            f": {share} of the {state.limit_w:.2f} W it may carry there; the box holds {state.meets_w:.2f} W"
        )
        return BOX_HEAT.ok(what, said + end, figure)
    cold_w = supply.limit_w or 0.0
    message = (
        f"{said}; there it may carry {state.limit_w:.2f} W "
        f"({supply.rated_w:g} W × {state.ambient_share:.3f} × {supply.load_factor:.2f}), "
        f"{share_text(supply.load_w, state.limit_w)}"
    )
    if compared(supply.load_w, cold_w) is Verdict.OK:
        share = share_text(supply.load_w, cold_w)
        message += f", though cold it would be {share}: it holds on the bench and shuts down in the show"
    mend = _mend(supply, box, state, around)
    return BOX_HEAT.finding(Verdict.OVER, what, message, figure, mend)


def _mend(supply: SupplyFacts, box: BoxFacts, state: BoxState, around: Lookup) -> Mend:
    """Vents where they are enough, a smaller load else; and the most that the box holds as it is."""
    holds = f"as it is the box holds {state.meets_w:.2f} W"
    less = cool(supply, around)
    if box.vent == Vent.SEALED:
        open_box = state_of(supply, vented(box), supply.load_w, around)
        if not isinstance(open_box, str) and compared(supply.load_w, open_box.limit_w) is Verdict.OK:
            text = (
                f"vent {box.tag} at top and bottom: {open_box.inside_degc:.1f} °C, {supply.load_w:.2f} W of "
                f"{open_box.limit_w:.2f} W; {holds}"
            )
            return Mend(text + (f"; or {less.text}" if less else ""), supply.load_w, open_box.limit_w)
    if less is not None:
        return Mend(f"{less.text}; {holds}", less.value_after, less.limit_after, less.acts)
    return Mend(f"take {supply.tag} out of {box.tag}, or some of its load; {holds}", None, None)
