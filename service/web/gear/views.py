"""A supply as a show has it, in the reader's words."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from service.limits.facts import ElementFacts, OutputFacts, RunFacts, ShowFacts, SupplyFacts
from service.planning.serving.asking import Serving
from service.reports.standing.loads import bars_of
from service.reports.standing.parts import Bar, State
from service.web.frame.pages import Reader
from service.web.gear.tree import Tree, Twig, tree
from service.web.shows.drawings import LoadBar, load_bar


@dataclass(frozen=True, slots=True)
class OutputBar:
    """`amps`: what it carries, of what we let it, in words."""

    number: int
    bar: LoadBar
    amps: str


@dataclass(frozen=True, slots=True)
class InShow:
    """`state`: over, tight, ok or none (something is not known), with its words; `finding`: what is over that
    its watts do not say."""

    serving: Serving
    state: str
    words: str
    limit_w: float | None
    finding: str
    drawing: Tree | None
    twigs: Sequence[Twig]
    whole: LoadBar
    outputs: Sequence[OutputBar]


def in_show(served: Serving, reader: Reader) -> InShow:
    twigs = twigs_of(served.show, served.supply, reader)
    whole, *outputs = (load_bar(bar) for bar in bars_of(served.supply, served.around, served.findings))
    state, words = state_of(whole.bar, reader)
    loaded = [output for output in served.supply.outputs if output.loads]
    told = [
        OutputBar(output.number, bar, _amps(served, output, reader))
        for output, bar in zip(loaded, outputs, strict=True)
    ]
    finding = whole.bar.said if whole.bar.state is State.OVER else ""
    return InShow(served, state, words, whole.bar.limit_w, finding, tree(twigs), twigs, whole, told)


def _amps(served: Serving, output: OutputFacts, reader: Reader) -> str:
    load, limit_a = reader.figure(output.load_a, "A"), served.around.output_limit_a(served.supply, output)
    if limit_a is None:
        return reader.say("unit-amps-unknown", load=load)
    return reader.say("unit-amps", load=load, limit=reader.figure(limit_a, "A"))


def state_of(bar: Bar, reader: Reader) -> tuple[str, str]:
    """How it stands by every limit, as a mark and its words."""
    mark = "none" if bar.state is State.UNKNOWN else bar.state.value
    if bar.said:
        return mark, reader.told(bar.said[:1].upper() + bar.said[1:])
    if bar.left_w is None:
        return mark, reader.say("load-unknown")
    if bar.state is State.OVER:
        return mark, reader.say("load-over", excess=reader.figure(-bar.left_w, "W"))
    return mark, reader.say("load-left", left=reader.figure(max(0.0, bar.left_w), "W"))


def twigs_of(show: ShowFacts, supply: SupplyFacts, reader: Reader) -> list[Twig]:
    """Every way out of the supply, in the order of outputs, decoders and channels."""
    found: list[tuple[tuple[int, str, int], Twig]] = []
    load_w = {load.run: load.w for output in supply.outputs for load in output.loads}
    for element, runs in _on(show, supply):
        ways: dict[tuple[int, str, int], list[RunFacts]] = {}
        for run in runs:
            assert run.feed is not None
            way = (run.feed.output, run.feed.decoder or "", run.feed.first_channel or 0)
            ways.setdefault(way, []).append(run)
        for way, same in ways.items():
            output_w = next((o.load_w for o in supply.outputs if o.number == way[0]), 0.0)
            twig = Twig(
                output=way[0],
                output_text=reader.figure(output_w, "W"),
                decoder=way[1],
                channels=_channels(same[0]),
                element=element.tag,
                name=element.name or element.tag,
                load_text=reader.figure(sum(load_w.get(run.tag, 0.0) for run in same), "W"),
            )
            found.append((way, twig))
    return [twig for _, twig in sorted(found, key=lambda one: (one[0], one[1].element))]


def _on(show: ShowFacts, supply: SupplyFacts) -> Iterable[tuple[ElementFacts, list[RunFacts]]]:
    for element in show.elements:
        runs = [run for run in element.runs if run.feed is not None and run.feed.supply == supply.tag]
        if runs:
            yield element, runs


def _channels(run: RunFacts) -> str:
    feed = run.feed
    if feed is None or not feed.first_channel or not feed.channels:
        return ""
    last = feed.first_channel + feed.channels - 1
    return str(last) if last == feed.first_channel else f"{feed.first_channel}–{last}"
