"""The problem falls apart by voltage and by places that share gear; only stock in the store joins parts."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from service.allocation.problem import Block, Installed, Problem

# A node of the graph that holds a part together: a voltage at a site, or a unit that is installed.
Node = tuple[int, str]
UNIT = -1


@dataclass(frozen=True, slots=True)
class Part:
    """Blocks that may share a supply or that share an installed unit; no unit that stands serves two."""

    blocks: tuple[Block, ...]
    installed: tuple[Installed, ...]

    @property
    def name(self) -> str:
        first = self.blocks[0]
        return f"{first.class_mv / 1000:g} V {first.sites[0] if first.sites else ''}".strip()


def split_parts(problem: Problem) -> tuple[Part, ...]:
    """Blocks by connected sites at one voltage, in the order of their first tags.

    Polarity and signal do not split: one supply may feed decoders of either polarity. Blocks that an
    installed supply or decoder already serves together stay together.
    """
    feeds = {feed.run: feed for feed in problem.installed}
    blocks = sorted(problem.blocks, key=lambda block: block.tag)
    nodes = {block.tag: _nodes(block, feeds) for block in blocks}
    chief = connect(nodes.values())
    by_chief: dict[Node, list[Block]] = {}
    for block in blocks:
        by_chief.setdefault(chief[nodes[block.tag][0]], []).append(block)
    return tuple(
        Part(
            tuple(own),
            tuple(sorted(feeds[run.tag] for block in own for run in block.runs if run.tag in feeds)),
        )
        for own in sorted(by_chief.values(), key=lambda own: own[0].tag)
    )


def part_problem(problem: Problem, part: Part, taken: Iterable[str] = ()) -> Problem:
    """The part as a problem of its own, with the units that no other part has installed or taken."""
    own = {tag for feed in part.installed for tag in (feed.supply, feed.decoder)}
    gone = {tag for feed in problem.installed for tag in (feed.supply, feed.decoder)} - own | set(taken)
    return replace(
        problem,
        blocks=part.blocks,
        supplies=tuple(unit for unit in problem.supplies if unit.tag not in gone),
        decoders=tuple(unit for unit in problem.decoders if unit.tag not in gone),
        installed=part.installed,
    )


def connect(groups: Iterable[Sequence[Node]]) -> dict[Node, Node]:
    """For every node the least of the nodes it hangs together with."""
    above: dict[Node, Node] = {}

    def top(node: Node) -> Node:
        while above.setdefault(node, node) != node:
            above[node] = above[above[node]]
            node = above[node]
        return node

    for group in groups:
        for node in group:
            low, high = sorted((top(group[0]), top(node)))
            above[high] = low
    return {node: top(node) for node in sorted(above)}


def _nodes(block: Block, feeds: dict[str, Installed]) -> list[Node]:
    """Where the block may be fed from and what feeds it now; a block of no place hangs on itself."""
    nodes = [(block.class_mv, site) for site in sorted(block.sites)]
    for run in block.runs:
        feed = feeds.get(run.tag)
        if feed is not None:
            nodes.extend((UNIT, tag) for tag in (feed.supply, feed.decoder) if tag)
    return nodes or [(UNIT, f" {block.tag}")]
