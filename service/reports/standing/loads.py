"""What hangs on each supply of a show, and which slots are taken."""

from collections import defaultdict

from service.limits import boxed
from service.limits.facts import OutputFacts, ShowFacts, SupplyFacts
from service.limits.findings import Finding
from service.limits.lookup import Lookup, span_of
from service.planning.snapshot.house import House
from service.reports.standing.lines import OF_ADDRESSES, place_name
from service.reports.standing.parts import Bar, Block, Slice, State, Universe

WORST = {State.OVER: 0, State.TIGHT: 1, State.UNKNOWN: 2, State.OK: 3}


def bars(show: ShowFacts, around: Lookup, house: House) -> tuple[Bar, ...]:
    """Every supply that carries something: what is over first, then what is nearly full."""
    names = {element.tag: element.name for element in show.elements}
    found = [_bar(supply, around, house, names) for supply in show.supplies if supply.load_w]
    return tuple(sorted(found, key=lambda bar: (WORST[bar.state], bar.supply)))


def _bar(supply: SupplyFacts, around: Lookup, house: House | None, names: dict[str, str]) -> Bar:
    parts: dict[tuple[int, str], float] = defaultdict(float)
    for output in supply.outputs:
        for load in output.loads:
            parts[output.number, load.element] += load.w
    return Bar(
        supply=supply.tag,
        kind=supply.kind,
        place=place_name(supply.place, house) if supply.place and house else "",
        outlet=supply.outlet or "",
        load_w=supply.load_w,
        limit_w=_limit_w(supply, around),
        rated_w=supply.rated_w,
        slices=tuple(Slice(tag, names.get(tag, tag), output, w) for (output, tag), w in parts.items()),
    )


def bars_of(supply: SupplyFacts, around: Lookup) -> tuple[Bar, ...]:
    """The bar of one supply or battery, then one of each output that carries something: its amps, turned into
    watts at the voltage of its class."""
    names = {element.tag: element.name for element in around.show.elements}
    whole = _bar(supply, around, None, names)
    return (whole, *(_output_bar(whole, supply, output, around) for output in supply.outputs if output.loads))


def _output_bar(whole: Bar, supply: SupplyFacts, output: OutputFacts, around: Lookup) -> Bar:
    limit_a = around.output_limit_a(supply, output)
    return Bar(
        supply=f"{supply.tag} output {output.number}",
        kind=supply.kind,
        place="",
        outlet="",
        load_w=output.load_w,
        limit_w=None if limit_a is None else limit_a * supply.class_v,
        rated_w=None if output.cap_a is None else output.cap_a * supply.class_v,
        slices=tuple(one for one in whole.slices if one.output == output.number),
    )


def _limit_w(supply: SupplyFacts, around: Lookup) -> float | None:
    """What the house lets it carry where it stands; a battery, what its outputs let through."""
    if supply.kind != "battery":
        return boxed.limit_w(supply, supply.load_w, around)
    caps = [around.output_limit_a(supply, output) for output in supply.outputs]
    return None if None in caps else sum(cap or 0.0 for cap in caps) * supply.class_v


def universes(show: ShowFacts, over: list[Finding]) -> tuple[Universe, ...]:
    """The universes something listens to, and the slots that are taken."""
    clashing = {finding.subject for finding in over if finding.code in OF_ADDRESSES}
    found: dict[int, list[Block]] = defaultdict(list)
    for patch in show.patches:
        span = span_of(patch)
        if span is not None:
            found[span.universe].append(Block(span.owner, span.start, span.end, span.owner in clashing))
    return tuple(
        Universe(number, tuple(sorted(blocks, key=lambda b: (b.first, b.decoder))))
        for number, blocks in sorted(found.items())
    )
