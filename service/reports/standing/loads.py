"""What hangs on each supply of a show, and which slots are taken."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from service.limits.facts import OutputFacts, ShowFacts, SupplyFacts
from service.limits.findings import Finding, Verdict
from service.limits.lookup import Lookup, span_of
from service.limits.registry import binding, by_code
from service.planning.snapshot.house import House
from service.reports.loads import limit_of
from service.reports.standing.faults import OF_LOADS, outcome_of
from service.reports.standing.lines import OF_ADDRESSES, place_name
from service.reports.standing.parts import Bar, Block, Slice, State, Universe

WORST = {State.OVER: 0, State.TIGHT: 1, State.UNKNOWN: 2, State.OK: 3}


def bars(show: ShowFacts, around: Lookup, house: House, found: Sequence[Finding]) -> tuple[Bar, ...]:
    """Every supply that carries something: what is over first, then what is nearly full. `found`: what the
    limits say of the show, worst first."""
    names = {element.tag: element.name for element in show.elements}
    of = defaultdict(list)
    for finding in found:
        of[finding.tag].append(finding)
    carried = [supply for supply in show.supplies if supply.load_w]
    told = [_judged(_bar(s, around, house, names), binding(of[s.tag], s.tag)) for s in carried]
    return tuple(sorted(told, key=lambda bar: (WORST[bar.state], bar.supply)))


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
        limit_w=limit_of(supply, around),
        rated_w=supply.rated_w,
        slices=tuple(Slice(tag, names.get(tag, tag), output, w) for (output, tag), w in parts.items()),
    )


def _judged(bar: Bar, binds: Finding | None) -> Bar:
    """With the worst that is said of it, in words where its watts do not show that."""
    if binds is None:
        return bar
    judged = replace(bar, verdict=binds.verdict)
    shows_it = judged.state is judged.state_of_watts and binds.verdict is not Verdict.WATCH
    return judged if shows_it or binds.verdict is Verdict.OK else replace(judged, said=short_of(binds))


def short_of(finding: Finding) -> str:
    """A finding in one breath: what comes of it, without the figures that lead there."""
    if finding.verdict is Verdict.UNKNOWN:
        title = by_code(finding.code).title
        return f"cannot check that {title[:1].lower()}{title[1:]}"
    margin = finding.margin
    if finding.unit in OF_LOADS and margin is not None and margin < 0:
        return f"{finding.subject} is {-margin:.2f} {finding.unit} over"
    return outcome_of(finding.message)


def bars_of(supply: SupplyFacts, around: Lookup, found: Sequence[Finding]) -> tuple[Bar, ...]:
    """The bar of one supply or battery, then one of each output that carries something: its amps, turned into
    watts at the voltage of its class. `found`: what the limits say, worst first."""
    names = {element.tag: element.name for element in around.show.elements}
    plain = _bar(supply, around, None, names)
    outputs = (
        _judged(_output_bar(plain, supply, output, around), binding(found, supply.tag, output.number))
        for output in supply.outputs
        if output.loads
    )
    return (_judged(plain, binding(found, supply.tag)), *outputs)


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
