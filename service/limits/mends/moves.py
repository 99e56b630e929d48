"""Where a load could go instead: the smallest move that clears a supply or an output.

What hangs on one decoder bank moves whole, because one supply output feeds a bank.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from service.limits import boxed
from service.limits.facts import OutputFacts, SupplyFacts
from service.limits.findings import Mend, Verdict, compared
from service.limits.lookup import Lookup
from service.limits.mends.acts import Shift

MOST_MOVED = 3  # a mend that moves more than this is a new plan, not a mend
MOST_TRIED = 16  # smallest groups looked at; keeps the search short on a crowded supply
MOST_OFFERED = 3


@dataclass(frozen=True, slots=True)
class Load:
    """What must move together: everything on one decoder bank, or one run straight on an output."""

    elements: tuple[str, ...]
    decoder: str
    output: int
    w: float
    a: float
    is_locked: bool = False
    runs: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        names = " and ".join(self.elements)
        return f"{names} with {self.decoder}" if self.decoder else names


@dataclass(frozen=True, slots=True)
class Home:
    """A supply output that would hold a load, and its figures afterwards."""

    supply: SupplyFacts
    output: int
    w: float
    limit_w: float | None
    a: float
    limit_a: float
    is_free: bool

    @property
    def place(self) -> str:
        many = len(self.supply.outputs) > 1
        return f"{self.supply.tag} output {self.output}" if many else self.supply.tag

    @property
    def name(self) -> str:
        return f"{self.place} (free)" if self.is_free else self.place

    @property
    def figures(self) -> str:
        if self.limit_w is None:
            return f"{self.a:.2f} A of {self.limit_a:.2f} A"
        return f"{self.w:.2f} W of {self.limit_w:.2f} W"


Extra = dict[tuple[str, int], tuple[float, float]]


def loads_on(supply: SupplyFacts, around: Lookup) -> list[Load]:
    """The loads of a supply, smallest first."""
    gathered: dict[tuple[int, str, int, str], list[tuple[str, str, float, float, bool]]] = defaultdict(list)
    for output in supply.outputs:
        for load in output.loads:
            found = around.run_by_tag.get(load.run)
            feed = found.run.feed if found else None
            decoder, bank = "", 0
            if feed is not None and feed.decoder is not None:
                home = around.bank_of(feed)
                decoder, bank = feed.decoder, home.bank.number if home else 0
            key = (output.number, decoder, bank, "" if decoder else load.run)
            is_locked = feed is not None and feed.locked
            gathered[key].append((load.element, load.run, load.w, load.a, is_locked))
    loads = [
        Load(
            tuple(sorted({element for element, *_ in rows})),
            decoder,
            number,
            sum(w for *_, w, _, _ in rows),
            sum(a for *_, a, _ in rows),
            any(is_locked for *_, is_locked in rows),
            tuple(sorted({run for _, run, *_ in rows})),
        )
        for (number, decoder, _, _), rows in gathered.items()
    ]
    return sorted(loads, key=lambda load: (round(load.w, 6), load.elements, load.decoder))


def homes_for(
    w: float, a: float, like: SupplyFacts, around: Lookup, extra: Extra | None = None
) -> Iterator[Home]:
    """Outputs of the same class and kind that would hold it: the production's own first, nearest first."""
    own = [s for s in around.show.supplies if _may_take(s, like) and _rides_alike(s, like)]
    free = [s for s in around.show.free_supplies if _may_take(s, like)]
    for is_free, supplies in ((False, own), (True, free)):
        for supply in sorted(supplies, key=lambda s: (s.place != like.place, s.tag)):
            for output in supply.outputs:
                home = _home(supply, output, (w, a), around, extra or {})
                if home is not None:
                    yield Home(supply, output.number, *home, is_free)


def _may_take(supply: SupplyFacts, like: SupplyFacts) -> bool:
    return (
        supply.kind == like.kind
        and supply.class_v == like.class_v
        and not supply.is_placeholder
        and supply.outlet_kind != "dimmed"
        and (supply.unit is None or supply.unit.state == "good")
    )


def _rides_alike(supply: SupplyFacts, like: SupplyFacts) -> bool:
    """A piece that rides on one unit is not fed from another."""
    return supply.scenic_unit == like.scenic_unit


def _home(
    supply: SupplyFacts, output: OutputFacts, load: tuple[float, float], around: Lookup, extra: Extra
) -> tuple[float, float | None, float, float] | None:
    """Watts, their limit, amps and their limit with the load on; None where it does not hold."""
    limit_a = around.output_limit_a(supply, output)
    w = supply.load_w + load[0] + sum(more[0] for key, more in extra.items() if key[0] == supply.tag)
    limit_w = boxed.limit_w(supply, w, around)
    if limit_a is None or (limit_w is None and supply.kind != "battery"):
        return None
    a = output.load_a + load[1] + extra.get((supply.tag, output.number), (0.0, 0.0))[1]
    if compared(a, limit_a) is Verdict.OVER:
        return None
    if limit_w is not None and compared(w, limit_w) is Verdict.OVER:
        return None
    return w, limit_w, a, limit_a


@dataclass(frozen=True, slots=True)
class Relief:
    """A set of loads, each with a home, and where else the first of them could go."""

    moved: tuple[tuple[Load, Home], ...]
    instead: tuple[Home, ...]

    @property
    def w(self) -> float:
        return sum(load.w for load, _ in self.moved)

    @property
    def a(self) -> float:
        return sum(load.a for load, _ in self.moved)

    @property
    def text(self) -> str:
        parts = [f"move {load.name} to {home.name}: {home.place} {home.figures}" for load, home in self.moved]
        return "; ".join(parts)

    @property
    def acts(self) -> tuple[Shift, ...]:
        return tuple(Shift(load.runs, home.supply.tag, home.output) for load, home in self.moved)

    @property
    def others(self) -> str:
        return "".join(f"; or to {home.name} ({home.figures})" for home in self.instead)


def smallest_relief(
    source: SupplyFacts,
    loads: Sequence[Load],
    clears: Callable[[Sequence[Load]], bool],
    stays_off: Callable[[Home, Load], bool],
    around: Lookup,
) -> Relief | None:
    """The fewest loads, and of those the fewest watts, whose going clears it and for which there is room."""
    movable = [
        load
        for load in loads
        if not load.is_locked and any(stays_off(h, load) for h in homes_for(load.w, load.a, source, around))
    ][:MOST_TRIED]
    for size in range(1, MOST_MOVED + 1):
        choices = sorted(combinations(movable, size), key=lambda c: round(sum(x.w for x in c), 6))
        for choice in choices:
            if clears(choice):
                relief = _with_homes(source, choice, stays_off, around)
                if relief is not None:
                    return relief
    return None


def _with_homes(
    source: SupplyFacts, choice: Iterable[Load], stays_off: Callable[[Home, Load], bool], around: Lookup
) -> Relief | None:
    extra: Extra = {}
    moved: list[tuple[Load, Home]] = []
    instead: list[Home] = []
    for load in choice:
        fit = (h for h in homes_for(load.w, load.a, source, around, extra) if stays_off(h, load))
        homes = _one_each(fit, MOST_OFFERED)
        if not homes:
            return None
        home, instead = homes[0], homes[1:]
        key = (home.supply.tag, home.output)
        w, a = extra.get(key, (0.0, 0.0))
        extra[key] = (w + load.w, a + load.a)
        moved.append((load, home))
    return Relief(tuple(moved), tuple(instead) if len(moved) == 1 else ())


def _one_each(homes: Iterable[Home], most: int) -> list[Home]:
    """The first home on each of so many supplies; the search stops there."""
    kept: dict[str, Home] = {}
    for home in homes:
        kept.setdefault(home.supply.tag, home)
        if len(kept) == most:
            break
    return list(kept.values())


def lighten(supply: SupplyFacts, around: Lookup) -> Mend | None:
    """The smallest move that brings a supply's watts under its limit and leaves no output of it over."""
    return _under(supply, lambda _: supply.limit_w, around)


def cool(supply: SupplyFacts, around: Lookup) -> Mend | None:
    """The same in its box, where a smaller load also makes less heat."""
    return _under(supply, lambda load_w: boxed.limit_w(supply, load_w, around), around)


def _under(supply: SupplyFacts, limit_at: Callable[[float], float | None], around: Lookup) -> Mend | None:
    def clears(choice: Sequence[Load]) -> bool:
        left_w = supply.load_w - sum(load.w for load in choice)
        limit_w = limit_at(left_w)
        return (
            limit_w is not None
            and compared(left_w, limit_w) is Verdict.OK
            and all(_is_clear(supply, output, choice, around) for output in supply.outputs)
        )

    loads = loads_on(supply, around)
    relief = smallest_relief(supply, loads, clears, lambda home, _: home.supply.tag != supply.tag, around)
    if relief is None:
        return None
    after_w = supply.load_w - relief.w
    text = f"{relief.text}, {supply.tag} {after_w:.2f} W{relief.others}"
    return Mend(text, after_w, limit_at(after_w), relief.acts)


def unload(supply: SupplyFacts, output: OutputFacts, around: Lookup) -> Mend | None:
    """The smallest move that brings one output under its limit; another output of the same box will do."""
    limit_a = around.output_limit_a(supply, output)
    if limit_a is None:
        return None
    loads = [load for load in loads_on(supply, around) if load.output == output.number]

    def stays_off(home: Home, _: Load) -> bool:
        return (home.supply.tag, home.output) != (supply.tag, output.number)

    def clears(choice: Sequence[Load]) -> bool:
        return _is_clear(supply, output, choice, around)

    relief = smallest_relief(supply, loads, clears, stays_off, around)
    if relief is None:
        return None
    after_a = output.load_a - relief.a
    name = f"{supply.tag} output {output.number}"
    text = f"{relief.text}, {name} {after_a:.2f} A{relief.others}"
    return Mend(text, after_a, limit_a, relief.acts)


def _is_clear(supply: SupplyFacts, output: OutputFacts, gone: Sequence[Load], around: Lookup) -> bool:
    limit_a = around.output_limit_a(supply, output)
    left_a = output.load_a - sum(load.a for load in gone if load.output == output.number)
    return limit_a is None or compared(left_a, limit_a) is Verdict.OK
