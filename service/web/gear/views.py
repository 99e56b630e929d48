"""A supply as a show has it, in the reader's words."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from service.limits.facts import ElementFacts, OutputFacts, RunFacts, ShowFacts, SupplyFacts
from service.limits.findings import SLACK
from service.planning.serving.asking import Serving
from service.reports.standing.loads import bars_of
from service.web.frame.pages import Reader
from service.web.gear.tree import Tree, Twig, tree
from service.web.shows.drawings import LoadBar, load_bar

NEARLY_FULL = 0.9  # a display mark, no verdict


@dataclass(frozen=True, slots=True)
class OutputBar:
    """`amps`: what it carries, of what we let it, in words."""

    number: int
    bar: LoadBar
    amps: str


@dataclass(frozen=True, slots=True)
class InShow:
    """`state`: over, tight, ok or none (its limit is not known), with its words; `finding`: what is wrong
    with it that its watts do not say."""

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
    whole, *outputs = (load_bar(bar) for bar in bars_of(served.supply, served.around))
    limit_w = whole.bar.limit_w if served.limit_w is None else served.limit_w
    state, words = state_of(served.supply, limit_w, reader)
    wrong = [found.message for found in served.findings if found.verdict == "over"]
    loaded = [output for output in served.supply.outputs if output.loads]
    told = [
        OutputBar(output.number, bar, _amps(served, output, reader))
        for output, bar in zip(loaded, outputs, strict=True)
    ]
    finding = short_of(wrong[0]) if wrong and state != "over" else ""
    return InShow(served, state, words, limit_w, finding, tree(twigs), twigs, whole, told)


def short_of(message: str) -> str:
    """A finding for a headline: what comes of it, without the figures that lead there.

    >>> short_of("BT-1 gives 32 Wh of 30 Wh: it dies at minute 156"), short_of("PS-2 is overdue; hurts TL")
    ('it dies at minute 156', 'PS-2 is overdue')
    """
    figures, _, outcome = message.rpartition(": it ")
    return f"it {outcome}" if figures else message.partition("; ")[0]


def _amps(served: Serving, output: OutputFacts, reader: Reader) -> str:
    load, limit_a = reader.figure(output.load_a, "A"), served.around.output_limit_a(served.supply, output)
    if limit_a is None:
        return reader.say("unit-amps-unknown", load=load)
    return reader.say("unit-amps", load=load, limit=reader.figure(limit_a, "A"))


def state_of(supply: SupplyFacts, limit_w: float | None, reader: Reader) -> tuple[str, str]:
    """How full it is, as a mark and its words."""
    if limit_w is None:
        return "none", reader.say("load-unknown")
    left_w = limit_w - supply.load_w
    if supply.load_w > limit_w * (1.0 + SLACK):
        return "over", reader.say("load-over", excess=reader.figure(-left_w, "W"))
    words = reader.say("load-left", left=reader.figure(max(0.0, left_w), "W"))
    return ("tight" if supply.load_w >= NEARLY_FULL * limit_w else "ok"), words


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
