"""The least that must stay dark because all supplies together have not the watts: a plain sum."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping

from service.allocation.problem import Block, Problem, Source, SupplyModel

# A voltage class, and kinds of source that serve no other circle of it.
Circle = tuple[int, frozenset[Source]]


def dark_floor(problem: Problem, dark_uw: Mapping[int, int], known_uw: Mapping[int, int]) -> dict[int, int]:
    """What no plan can feed, by priority, where the more urgent ones are fed as far as can be.

    `dark_uw`: what a plan leaves dark; `known_uw`: floors known already. All priorities up to one lack
    together at least load less watts; what the more urgent ones leave dark at most is taken off that. It
    is what the plan leaves dark while everything before is proven, afterwards all they ask for.
    """
    need = _needs(problem)
    have = _watts(problem, need)
    asked: Counter[Circle] = Counter()
    floors: dict[int, int] = {}
    before_uw, certain = 0, True
    for priority in sorted({priority for each in need.values() for priority in each}):
        for circle, each in need.items():
            asked[circle] += each[priority]
        short_uw = sum(max(0, uw - have[circle]) for circle, uw in asked.items())
        dark = dark_uw.get(priority, 0)
        floor = min(dark, max(known_uw.get(priority, 0), short_uw - before_uw))
        if floor:
            floors[priority] = floor
        before_uw += dark if certain else sum(each[priority] for each in need.values())
        certain = certain and floor >= dark
    return floors


def _needs(problem: Problem) -> dict[Circle, Counter[int]]:
    """Load by priority in each circle. A run kept on a supply of the wrong kind asks nothing of others."""
    models = {model.tag: model for model in problem.supply_models}
    kinds = {unit.tag: models[unit.model] for unit in problem.supplies if unit.model in models}
    on = {was.run: kinds[was.supply] for was in problem.installed if was.supply in kinds}
    circles = _circles(problem.blocks)
    need: dict[Circle, Counter[int]] = defaultdict(Counter)
    for block in problem.blocks:
        for run in block.runs:
            kind = on.get(run.tag)
            if kind is None or (kind.class_mv == block.class_mv and kind.source in block.sources):
                need[_circle_of(circles, block)][block.priority] += run.load_uw
    return dict(need)


def _circles(blocks: Iterable[Block]) -> set[Circle]:
    """Blocks that may share a kind of source are in one circle."""
    circles: set[Circle] = set()
    for class_mv, sources in sorted(
        {(b.class_mv, b.sources) for b in blocks}, key=lambda c: (c[0], sorted(c[1]))
    ):
        shared = {circle for circle in circles if circle[0] == class_mv and circle[1] & sources}
        whole = sources.union(*(circle[1] for circle in shared))
        circles = (circles - shared) | {(class_mv, whole)}
    return circles


def _circle_of(circles: Iterable[Circle], block: Block) -> Circle:
    return next(c for c in circles if c[0] == block.class_mv and block.sources <= c[1])


def _watts(problem: Problem, circles: Iterable[Circle]) -> dict[Circle, int]:
    """What all units of a circle may carry; what is over already carries what it carries."""
    loads = {run.tag: run.load_uw for block in problem.blocks for run in block.runs}
    carried: dict[str, Counter[int]] = defaultdict(Counter)
    for was in problem.installed:
        carried[was.supply][was.output] += loads.get(was.run, 0)
    models = {model.tag: model for model in problem.supply_models}
    units = [(unit.tag, models[unit.model]) for unit in problem.supplies if unit.model in models]
    return {
        circle: sum(
            _most_uw(model, carried[tag])
            for tag, model in units
            if model.class_mv == circle[0] and model.source in circle[1]
        )
        for circle in circles
    }


def _most_uw(model: SupplyModel, carried_uw: Mapping[int, int]) -> int:
    """Watts of the supply, or of all its outputs where those are less; what nobody knows adds nothing."""
    outputs = enumerate(model.outputs_ua, 1)
    outputs_uw = sum(max(model.class_mv * (ua or 0) // 1000, carried_uw[number]) for number, ua in outputs)
    return min(max(model.usable_uw or 0, sum(carried_uw.values())), outputs_uw)
