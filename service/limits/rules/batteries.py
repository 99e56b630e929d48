"""Batteries through a show: watt hours along the running order, and the minute a pack dies."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from service.electrical.power.packs import (
    TRANSPORT_WH,
    USABLE_SHARE,
    Demand,
    Dimming,
    Pack,
    duty,
    transport,
)
from service.electrical.power.running import Running, Stretch, packs_needed, running
from service.errors import BadQuantity
from service.limits import cautions
from service.limits.blanks import listed
from service.limits.facts import CueFacts, ElementFacts, PackFacts, PackModelFacts, SupplyFacts
from service.limits.findings import (
    Figure,
    Finding,
    Harm,
    Mend,
    Rule,
    Verdict,
    about,
    share_text,
)
from service.limits.lookup import Lookup
from service.limits.mends.swaps import another_supply

BATTERY_TIME = Rule(
    "battery-time",
    "A pack lasts through the show with a reserve",
    10,
    Harm.DARK,
    "battery",
    "energy balance along the running order and a hold; usable share and reserve are common practice",
    cautions.BATTERY,
)


def battery_time(supply: SupplyFacts, around: Lookup) -> Finding | None:
    """The pack outlasts the show: within its budget ok, into its reserve watched, beyond it over."""
    if supply.kind != "battery" or not supply.load_w:
        return None
    elements = _elements(supply, around)
    what = about(supply.tag, supply.tag, (e.tag for e in elements))
    blank = [e.tag for e in elements if not e.cues]
    if blank:
        return BATTERY_TIME.unknown(
            what, f"how {listed(blank)} is lit through the show", "its running order, in minutes and levels"
        )
    if supply.pack is None or supply.pack.capacity_ah is None:
        return BATTERY_TIME.unknown(what, "what it holds", "the capacity of its model in Ah")
    try:
        ran = _run(supply, supply.pack, elements, around)
    except BadQuantity as refusal:
        return BATTERY_TIME.unknown(what, f"how long it lasts ({refusal.message})", refusal.mend)
    return _judged(supply, supply.pack, elements, ran, around)


def running_of(supply: SupplyFacts, around: Lookup) -> Running | None:
    """The pack along the running orders of what is on it; None while a figure that this wants is blank."""
    elements = _elements(supply, around)
    is_blank = supply.pack is None or supply.pack.capacity_ah is None or not all(e.cues for e in elements)
    if supply.kind != "battery" or not supply.load_w or is_blank or supply.pack is None:
        return None
    try:
        return _run(supply, supply.pack, elements, around)
    except BadQuantity:
        return None


def _judged(
    supply: SupplyFacts, pack: PackFacts, elements: Sequence[ElementFacts], ran: Running, around: Lookup
) -> Finding:
    what = about(supply.tag, supply.tag, (e.tag for e in elements))
    hold_min = around.policy.battery_hold_min
    said = (
        f"{supply.tag} gives {ran.used_wh:.2f} Wh through the show, {ran.held_wh:.2f} Wh with a hold of "
        f"{hold_min:g} min"
    )
    assumed = _assumed(supply, pack, around)
    if ran.is_over:
        figure = Figure(ran.held_wh, ran.usable_wh, "Wh")
        end = f"{said}, of {ran.usable_wh:.2f} Wh usable: {_death(ran)}{assumed}"
        return BATTERY_TIME.finding(Verdict.OVER, what, end, figure, _mend(supply, elements, ran, around))
    if blank := _idle_blank(supply, around):
        return BATTERY_TIME.unknown(what, f"what {listed(blank)} draws when dark", "its idle watts")
    share = share_text(ran.held_wh, ran.budget_wh)
    figure = Figure(ran.held_wh, ran.budget_wh, "Wh")
    end = f"{said}, of {ran.budget_wh:.2f} Wh that may be planned with, {share}"
    if ran.eats_reserve:
        message = f"{end}: it lasts, on its reserve of {ran.usable_wh - ran.budget_wh:.2f} Wh{assumed}"
        return BATTERY_TIME.finding(
            Verdict.WATCH, what, message, figure, _mend(supply, elements, ran, around)
        )
    return BATTERY_TIME.ok(what, f"{end}{_two_shows(ran, pack, around)}{assumed}", figure)


def _elements(supply: SupplyFacts, around: Lookup) -> list[ElementFacts]:
    tags = {found.element.tag for found in around.runs_of_supply(supply.tag)}
    return [e for e in around.show.elements if e.tag in tags]


def _run(supply: SupplyFacts, pack: PackFacts, elements: Sequence[ElementFacts], around: Lookup) -> Running:
    """The pack along the orders of everything on it, laid over one another from the same start."""
    order = list(_stretches(supply, elements, around))
    idle_w = sum(around.decoders[tag].idle_w or 0.0 for tag in _decoders(supply, around))
    demand = Demand(supply.load_w, idle_w, pack.converter_efficiency or 1.0, Dimming.LINEAR)
    return running(order, demand, _pack(pack, around), around.policy.battery_hold_min)


def _pack(pack: PackFacts, around: Lookup) -> Pack:
    plain = Pack(pack.nominal_v, pack.capacity_ah, pack.usable or USABLE_SHARE, pack.peukert)
    reserve = 1.0 - around.policy.battery_budget
    return replace(plain, rated_h=pack.rated_h or plain.rated_h, reserve_share=reserve)


def _stretches(supply: SupplyFacts, elements: Sequence[ElementFacts], around: Lookup) -> Iterator[Stretch]:
    """From change to change of any of them; `level`: the share of the whole load that is drawn then."""
    ends = sorted({end for e in elements for end, _ in _ending(e.cues)})
    start = 0.0
    for end in ends:
        middle = (start + end) / 2.0
        drawn_w, names = 0.0, []
        for element in elements:
            cue = next((cue for until, cue in _ending(element.cues) if until > middle), None)
            if cue is None:
                continue
            drawn_w += _load_w(supply, element.tag) * _duty(element, cue, around)
            names += [cue.name] if cue.name not in names else []
        yield Stretch(" / ".join(names), end - start, min(1.0, drawn_w / supply.load_w))
        start = end


def _ending(cues: Sequence[CueFacts]) -> list[tuple[float, CueFacts]]:
    """Each stretch with the minute at which it ends."""
    found, at_min = [], 0.0
    for cue in cues:
        at_min += cue.minutes
        found.append((at_min, cue))
    return found


def _load_w(supply: SupplyFacts, element: str) -> float:
    return sum(load.w for o in supply.outputs for load in o.loads if load.element == element)


def _duty(element: ElementFacts, cue: CueFacts, around: Lookup) -> float:
    """Share of the time it draws; straight on the pack it is on or off, and an unknown curve is linear."""
    if not element.dimmed:
        return 1.0 if cue.level_pct else 0.0
    tags = {run.feed.decoder for run in element.runs if run.feed is not None and run.feed.decoder}
    curves = {around.decoders[tag].curve for tag in tags if tag in around.decoders}
    is_square = curves == {Dimming.SQUARE.value}
    return duty(cue.level_pct / 100.0, Dimming.SQUARE if is_square else Dimming.LINEAR)


def _decoders(supply: SupplyFacts, around: Lookup) -> list[str]:
    feeds = (found.run.feed for found in around.runs_of_supply(supply.tag))
    return sorted({f.decoder for f in feeds if f is not None and f.decoder in around.decoders})


def _idle_blank(supply: SupplyFacts, around: Lookup) -> list[str]:
    return [tag for tag in _decoders(supply, around) if around.decoders[tag].idle_w is None]


def _death(ran: Running) -> str:
    if ran.dies_at_min is None or ran.dies_in_min is None:
        return "it dies in the hold"
    into = f"{ran.dies_in_min:.0f} min into {ran.dies_in or 'a stretch'}"
    return f"it dies at minute {ran.dies_at_min:.0f}, {into}"


def _assumed(supply: SupplyFacts, pack: PackFacts, around: Lookup) -> str:
    """What was taken for a blank, and the caution of a large pack."""
    said = []
    if pack.usable is None:
        said.append(f"its usable share is not given: {USABLE_SHARE:g} was taken (common practice)")
    said += [
        f"the curve of {tag} is not given: linear was taken, which empties a pack faster"
        for tag in _decoders(supply, around)
        if not around.decoders[tag].curve
    ]
    if pack.capacity_ah and pack.nominal_v * pack.capacity_ah > TRANSPORT_WH:
        moved = transport(pack.nominal_v, pack.capacity_ah)
        said.append(f"{moved.wh:.4g} Wh: {moved.caution.split(';')[0]}")
    return "".join(f"; {one}" for one in said)


def _two_shows(ran: Running, pack: PackFacts, around: Lookup) -> str:
    day = packs_needed(ran.held_wh, _pack(pack, around), 2, 0.0, pack.charge_h or 48.0)
    if day.for_day == day.at_once:
        return "; one charge covers two shows"
    charge = f", or {pack.charge_h:g} h of charging between them" if pack.charge_h else ""
    return f"; two shows on a day want {day.for_day} packs{charge}"


def _mend(supply: SupplyFacts, elements: Sequence[ElementFacts], ran: Running, around: Lookup) -> Mend:
    """The smallest free pack that stays within its budget, else the smallest kind that would; and levels
    with which this one lasts."""
    cap = _cap(supply, elements, around)
    or_cap = f"; or {cap[0]}" if cap else ""
    free = [(s.tag, f"use {s.tag} ({s.model}, free)", s.pack) for s in another_supply(supply, around)]
    kinds = [(k.tag, f"use a {k.tag} ({_had(k)})", k.pack) for k in _kinds(supply, around)]
    for choice in (free, kinds):
        fit = [found for found in choice if found[2] is not None and found[2].capacity_ah is not None]
        tried = [(_run(supply, pack, elements, around), tag, words) for tag, words, pack in fit if pack]
        lasts = [
            (after.budget_wh, tag, words, after) for after, tag, words in tried if not after.eats_reserve
        ]
        if lasts:
            _, _, words, after = min(lasts, key=lambda found: found[:2])
            share = share_text(after.held_wh, after.budget_wh)
            figures = f"{after.held_wh:.2f} Wh of {after.budget_wh:.2f} Wh, {share}"
            return Mend(f"{words}: {figures}{or_cap}", after.held_wh, after.budget_wh)
    if cap is not None:
        return Mend(f"no larger pack of the house lasts; {cap[0]}", cap[1], ran.budget_wh)
    return Mend("get a larger pack, or change packs in an interval: none of the house lasts")


def _had(kind: PackModelFacts) -> str:
    return f"none is free for all of the show; {kind.on_hand}" if kind.on_hand else "none is free"


def _kinds(supply: SupplyFacts, around: Lookup) -> list[PackModelFacts]:
    """Kinds of the same class that give its amps."""
    most_a = max(o.load_a for o in supply.outputs)
    return [
        kind
        for kind in around.show.pack_models
        if kind.class_v == supply.class_v and kind.max_a is not None and kind.max_a >= most_a
    ]


def _cap(supply: SupplyFacts, elements: Sequence[ElementFacts], around: Lookup) -> tuple[str, float] | None:
    """(what to do, watt hours then) with the highest level in whole per cent that stays within the budget."""
    pack = supply.pack
    if pack is None or not all(e.dimmed for e in elements):
        return None
    low, high, best = 0, 100, None
    while low < high - 1:
        middle = (low + high) // 2
        ran = _run(supply, pack, [_held_at(e, middle) for e in elements], around)
        if ran.eats_reserve:
            high = middle
        else:
            low, best = middle, ran
    if best is None:
        return None
    text = f"hold every level at {low} % or less, where nobody can pass it: {best.held_wh:.2f} Wh of "
    return f"{text}{best.budget_wh:.2f} Wh", best.held_wh


def _held_at(element: ElementFacts, pct: float) -> ElementFacts:
    cues = tuple(replace(cue, level_pct=min(cue.level_pct, pct)) for cue in element.cues)
    return replace(element, cues=cues)
