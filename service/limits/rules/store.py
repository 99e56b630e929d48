"""The stock itself: the state of a unit, what is overdue, and lots that must match."""

from collections.abc import Iterable

from service.limits import cautions
from service.limits.facts import ElementFacts, UnitFacts
from service.limits.findings import About, Figure, Finding, Harm, Mend, Rule, Verdict, about, compared
from service.limits.lookup import ChannelOf, Gear, Group, Lookup, lead_ohm_per_m
from service.limits.mends.swaps import another_decoder, another_supply, taking_over

UNIT_STATE = Rule(
    "unit-state",
    "Only sound units are used",
    12,
    Harm.DARK,
    "unit",
    "common practice: a bad unit stays out of the good bin",
)
OVERDUE = Rule(
    "overdue",
    "Lent gear comes back when it is due",
    12,
    Harm.PAPER,
    "unit",
    "dates as written in the store; both ends of a window belong to it",
)
MATCH_TAPE = Rule(
    "match-tape",
    "A match group is one kind of tape",
    11,
    Harm.LOOKS,
    "match group",
    "common practice: things seen together are made alike",
)
MATCH_LOT = Rule(
    "match-lot",
    "A match group is one lot",
    11,
    Harm.LOOKS,
    "match group",
    "common practice: two lots of one tape may differ in colour to the eye",
    cautions.CUTTING,
)
MATCH_FEED = Rule(
    "match-feed",
    "A match group is fed in one style",
    11,
    Harm.LOOKS,
    "match group",
    "common practice: one end, both ends and the middle fade along the tape in different ways",
)
MATCH_PWM = Rule(
    "match-pwm",
    "A match group has one dimming frequency",
    11,
    Harm.LOOKS,
    "match group",
    "common practice: a camera sees frequencies that differ",
)
MATCH_DROP = Rule(
    "match-drop",
    "The volts of a match group drop alike",
    11,
    Harm.LOOKS,
    "match group",
    "common practice: a spread up to 3 % of the volts; a house setting",
)
PARALLEL_LOTS = Rule(
    "parallel-lots",
    "What shares a channel is one lot, or has a note",
    11,
    Harm.LOOKS,
    "decoder",
    "common practice",
)

SAY = {
    "faulty": "is faulty",
    "suspect": "is suspect",
    "repair": "is away for repair",
    "retired": "is retired",
    "missing": "is missing",
}


def unit_state(gear: Gear, around: Lookup) -> Finding | None:
    """A unit in use is good; suspect is watched; anything else is over."""
    elements = around.elements_of_unit(gear.tag)
    what = about(gear.tag, gear.tag, elements)
    if gear.unit is None:
        if gear.is_placeholder:
            return UNIT_STATE.unknown(what, "which unit it will be", "its tag once one is chosen")
        return UNIT_STATE.unknown(what, "its state", "good, suspect, faulty, repair, retired or missing")
    unit = gear.unit
    if unit.state == "good":
        return UNIT_STATE.ok(what, f"{unit.tag} is good")
    note = f" ({unit.state_note})" if unit.state_note else ""
    use = f"and feeds {', '.join(what.elements)}" if elements else "and is promised to this production"
    verdict = Verdict.WATCH if unit.state == "suspect" else Verdict.OVER
    message = f"{unit.tag} {SAY.get(unit.state, 'is ' + unit.state)}{note} {use}"
    return UNIT_STATE.finding(verdict, what, message, None, _swap_in(unit, around))


def _swap_in(unit: UnitFacts, around: Lookup) -> Mend:
    found = _instead_of(unit, around)
    if not found:
        return Mend(
            f"no sound unit that would carry it is free; mend {unit.tag} or get one more {unit.model}"
        )
    first, *rest = (f"{tag} ({model})" for tag, model in found)
    others = f"; or {', '.join(rest[:2])}" if rest else ""
    return Mend(f"swap {unit.tag} for {first}{others}", acts=taking_over(unit.tag, found[0][0], around))


def _instead_of(unit: UnitFacts, around: Lookup) -> list[tuple[str, str]]:
    """Sound units that are free and would carry what this one carries, the best first: tag and model."""
    supply, decoder = around.supplies.get(unit.tag), around.decoders.get(unit.tag)
    if supply is not None:
        return [(s.tag, s.model) for s in another_supply(supply, around)]
    if decoder is not None:
        return [(d.tag, d.model) for d in another_decoder(decoder, around)]
    free = [(s.tag, s.model) for s in around.show.free_supplies]
    free += [(d.tag, d.model) for d in around.show.free_decoders]
    return sorted((tag, model) for tag, model in free if model == unit.model)


def overdue(gear: Gear, around: Lookup) -> Finding | None:
    """A unit that is out is not past its last day."""
    unit = gear.unit
    if unit is None or not unit.is_out:
        return None
    elements = around.elements_of_unit(unit.tag)
    what = about(unit.tag, unit.tag, elements)
    if unit.due_on is None:
        return OVERDUE.unknown(what, "when it is due back", "the last day it may be out")
    late_d = (around.show.on - unit.due_on).days
    figure = Figure(float(max(late_d, 0)), 0.0, "d")
    if late_d <= 0:
        return OVERDUE.ok(what, f"{unit.tag} is due back {unit.due_on.isoformat()}", figure)
    by = f" from {unit.held_by}" if unit.held_by else ""
    message = f"{unit.tag} is overdue {late_d} days{by}"
    ask = f"get {unit.tag} back{by}"
    for production, first_day in sorted(unit.wanted_by, key=lambda w: (w[1], w[0])):
        message += f"; hurts {production} from {first_day.isoformat()}"
    if elements:
        load_w = sum(e.load_w or 0.0 for tag in sorted(set(elements)) if (e := around.elements.get(tag)))
        message += f" ({', '.join(what.elements)}: {load_w:.2f} W)"
    if unit.wanted_by:
        ask += f" before {min(day for _, day in unit.wanted_by).isoformat()}"
    if not around.show.is_over:
        instead = _instead_of(unit, around)
        ask += (
            f", or take {instead[0][0]} ({instead[0][1]})" if instead else f"; no other {unit.model} is free"
        )
    mend = Mend(ask, 0.0, 0.0)
    return OVERDUE.finding(Verdict.OVER, what, message, figure, mend)


def _group(group: Group) -> About:
    return about(group.name, group.name, (e.tag for e in group.elements))


def match_tape(group: Group, _around: Lookup) -> Finding | None:
    """Everything in a match group is the same tape."""
    blank = [e.tag for e in group.elements if e.tape is None]
    tapes = sorted({e.tape.tag for e in group.elements if e.tape is not None})
    figure = Figure(float(len(tapes)), 1.0, "tapes")
    if len(tapes) > 1:
        mend = Mend("make all of them of one tape", 1.0, 1.0)
        message = f"match group {group.name} is {' and '.join(tapes)}"
        return MATCH_TAPE.finding(Verdict.OVER, _group(group), message, figure, mend)
    if blank:
        return MATCH_TAPE.unknown(_group(group), f"the tape of {', '.join(blank)}", "it")
    return MATCH_TAPE.ok(_group(group), f"match group {group.name} is all {tapes[0]}", figure)


def match_lot(group: Group, _around: Lookup) -> Finding | None:
    """Everything in a match group is cut from one lot."""
    lots = _metres_by_lot(group.elements)
    pieces = [p for e in group.elements for r in e.runs for p in r.pieces]
    uncut = sum(1 for p in pieces if not p.lots)
    figure = Figure(float(len(lots)), 1.0, "lots")
    if len(lots) > 1:
        parts = "; ".join(f"{lot}: {', '.join(_tags_of(group.elements, lot))}" for lot in sorted(lots))
        message = f"match group {group.name} is cut from {len(lots)} lots ({parts})"
        return MATCH_LOT.finding(Verdict.OVER, _group(group), message, figure, _cut_again(group, lots))
    if uncut or not pieces:
        return MATCH_LOT.unknown(
            _group(group), f"the lot of {uncut} of {len(pieces)} pieces", "it when they are cut"
        )
    return MATCH_LOT.ok(_group(group), f"match group {group.name} is all lot {next(iter(lots))}", figure)


def _metres_by_lot(elements: Iterable[ElementFacts]) -> dict[str, float]:
    metres: dict[str, float] = {}
    for piece in (p for e in elements for r in e.runs for p in r.pieces):
        for lot in set(piece.lots):
            metres[lot] = metres.get(lot, 0.0) + piece.cut_m
    return metres


def _tags_of(elements: Iterable[ElementFacts], lot: str) -> list[str]:
    return sorted({e.tag for e in elements for r in e.runs for p in r.pieces if lot in p.lots})


def _cut_again(group: Group, lots: dict[str, float]) -> Mend:
    """Keep the lot with the most metres and cut again whatever is not wholly of it."""
    keep = max(sorted(lots), key=lambda lot: lots[lot])
    pieces = [(e.tag, p) for e in group.elements for r in e.runs for p in r.pieces]
    again = [(tag, p) for tag, p in pieces if p.lots and set(p.lots) != {keep}]
    metres = sum(p.cut_m for _, p in again)
    names = ", ".join(sorted({tag for tag, _ in again}))
    return Mend(f"cut {names} again from lot {keep}: {metres:.3f} m in {len(again)} pieces", 1.0, 1.0)


def match_feed(group: Group, _around: Lookup) -> Finding | None:
    """Everything in a match group is fed in the same style."""
    styles = sorted({r.feed_style for e in group.elements for r in e.runs})
    if not styles:
        return None
    figure = Figure(float(len(styles)), 1.0, "styles")
    if len(styles) == 1:
        return MATCH_FEED.ok(_group(group), f"match group {group.name} is all fed {styles[0]}", figure)
    message = f"match group {group.name} is fed in {len(styles)} styles: {', '.join(styles)}"
    mend = Mend("feed all of them in one style", 1.0, 1.0)
    return MATCH_FEED.finding(Verdict.WATCH, _group(group), message, figure, mend)


def match_pwm(group: Group, around: Lookup) -> Finding | None:
    """Everything in a match group dims at one frequency."""
    feeds = [r.feed for e in group.elements if e.dimmed for r in e.runs if r.feed is not None]
    tags = sorted({f.decoder for f in feeds if f.decoder is not None})
    if not tags:
        return None
    hertz = {tag: around.decoders[tag].pwm_hz if tag in around.decoders else None for tag in tags}
    blank = [tag for tag, hz in hertz.items() if hz is None]
    known = sorted({hz for hz in hertz.values() if hz is not None})
    figure = Figure(float(len(known)), 1.0, "frequencies")
    if len(known) > 1:
        said = ", ".join(f"{tag} {hz:g} Hz" for tag, hz in hertz.items() if hz is not None)
        mend = Mend("set all its decoders to one frequency, or use one model", 1.0, 1.0)
        message = f"match group {group.name} dims at {len(known)} frequencies: {said}"
        return MATCH_PWM.finding(Verdict.WATCH, _group(group), message, figure, mend)
    if blank:
        return MATCH_PWM.unknown(
            _group(group), f"the dimming frequency of {', '.join(blank)}", "the hertz it is set to"
        )
    return MATCH_PWM.ok(_group(group), f"match group {group.name} dims at {known[0]:g} Hz", figure)


def match_drop(group: Group, around: Lookup) -> Finding | None:
    """The far ends of a match group are within a few per cent of each other."""
    drops: dict[str, float] = {}
    for element in group.elements:
        for run in element.runs:
            ohm_per_m = lead_ohm_per_m(run.lead)
            if element.tape is None or ohm_per_m is None or not run.pieces:
                return MATCH_DROP.unknown(_group(group), f"the tape or the lead of {run.tag}", "it")
            drop = around.drop(run, element.tape, run.feed_style, ohm_per_m)
            if drop is None or drop.total_pct is None:
                return MATCH_DROP.unknown(_group(group), f"the length or resistance on {run.tag}", "it")
            drops[run.tag] = drop.total_pct
    if not drops:
        return None
    least, most = min(drops, key=lambda t: (drops[t], t)), max(drops, key=lambda t: (drops[t], t))
    spread, limit = drops[most] - drops[least], 100.0 * around.policy.match_drop_spread
    figure = Figure(spread, limit, "%")
    said = f"match group {group.name}: {least} loses {drops[least]:.2f} %, {most} {drops[most]:.2f} %"
    if compared(spread, limit) is Verdict.OK:
        return MATCH_DROP.ok(_group(group), said, figure)
    message = f"{said}; more than {limit:g} % apart"
    mend = Mend(f"shorten or thicken the lead of {most}, or feed it as {least} is fed")
    return MATCH_DROP.finding(Verdict.OVER, _group(group), message, figure, mend)


def parallel_lots(at: ChannelOf, around: Lookup) -> Finding | None:
    """Elements in parallel on a channel are of one lot; the eye compares them at every level."""
    tags = sorted({load.element for load in at.channel.loads})
    elements = [around.elements[tag] for tag in tags if tag in around.elements]
    if len(elements) < 2:
        return None
    what = about(at.name, at.decoder.tag, tags)
    lots = _metres_by_lot(elements)
    figure = Figure(float(len(lots)), 1.0, "lots")
    if len(lots) > 1:
        message = f"{' and '.join(tags)} share {at.name} and are of lots {' and '.join(sorted(lots))}"
        mend = Mend("write a note that it has been looked at, or cut them from one lot", 1.0, 1.0)
        return PARALLEL_LOTS.finding(Verdict.WATCH, what, message, figure, mend)
    if any(not p.lots for e in elements for r in e.runs for p in r.pieces):
        return PARALLEL_LOTS.unknown(what, "the lot of every piece", "it when they are cut")
    return PARALLEL_LOTS.ok(what, f"{' and '.join(tags)} share {at.name} and are one lot", figure)
