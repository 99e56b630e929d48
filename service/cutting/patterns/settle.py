"""Whether everything can be cut at exactly one price: decided over whole patterns."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Any

from service.cutting.board import ANY, Kind
from service.cutting.patterns.filling import Pattern, Taken, Task

MOST_CONTENTS, MOST_STEPS = 20_000, 400_000


@dataclass(frozen=True, slots=True)
class Settled:
    """An answer at the price asked about; or that there is none; or neither, and nothing is known."""

    taken: Taken | None
    is_impossible: bool


def settle(task: Task, price: int, columns: Sequence[tuple[int, Pattern]], work: float) -> Settled:
    """With the reels that this price buys, the room left over in all of them together is known, so no reel
    may leave more. Where such contents are few enough to list, a no is a proof; otherwise only `columns`
    are tried. `work`: in the solver's deterministic units.
    """
    listed = _all_columns(task, price)
    return _solve(task, price, columns if listed is None else listed, listed is not None, work)


def _all_columns(task: Task, price: int) -> list[tuple[int, Pattern]] | None:
    """Every length with every content that leaves no more than can be spared; None if they are too many.

    Told only where the price says how many reels are bought: one length has a price, the rest has none.
    """
    priced = [n for n, each in enumerate(task.prices) if each]
    if len(priced) != 1 or price % task.prices[priced[0]]:
        return None
    bought = price // task.prices[priced[0]]
    room = sum(each.pitches * each.most for n, each in enumerate(task.lengths) if n not in priced)
    spare = room + bought * task.lengths[priced[0]].pitches - task.needed_pitches
    if spare < 0:
        return []
    columns: list[tuple[int, Pattern]] = []
    for number, length in enumerate(task.lengths):
        kinds = [kind for kind in task.kinds if kind[1] in (ANY, length.layer)]
        found = every_content(kinds, [task.wanted[kind] for kind in kinds], length.pitches, spare)
        if found is None or len(columns) + len(found) > MOST_CONTENTS:
            return None
        columns += [(number, content) for content in found if content]
    return columns


def every_content(
    kinds: Sequence[Kind], counts: Sequence[int], room: int, spare: int
) -> list[Pattern] | None:
    """All contents of a reel that leave at most `spare` of its room; None if there are too many to list.

    Kinds come longest first. A branch is dropped when even all that is left cannot fill the reel.
    """
    whole = [kind[0] * count for kind, count in zip(kinds, counts, strict=True)]
    after = [0, *accumulate(reversed(whole))][::-1]
    found: list[Pattern] = []
    steps = 0

    def fill(at: int, room: int, chosen: Pattern) -> bool:
        nonlocal steps
        steps += 1
        if room <= spare:
            found.append(chosen)
        if steps > MOST_STEPS or len(found) > MOST_CONTENTS:
            return False
        for next_at in range(at, len(kinds)):
            if room - after[next_at] > spare:
                return True
            for count in range(1, min(counts[next_at], room // kinds[next_at][0]) + 1):
                more = (*chosen, (kinds[next_at], count))
                if not fill(next_at + 1, room - count * kinds[next_at][0], more):
                    return False
        return True

    return found if fill(0, room, ()) else None


def _solve(
    task: Task, price: int, columns: Sequence[tuple[int, Pattern]], is_all: bool, work: float
) -> Settled:
    from ortools.sat.python import cp_model  # heavy: loaded only where the work is done

    model = cp_model.CpModel()
    covers: dict[Kind, list[Any]] = {kind: [] for kind in task.kinds}
    reels: list[list[Any]] = [[] for _ in task.lengths]
    uses = [model.new_int_var(0, task.lengths[number].most, "") for number, _ in columns]
    for use, (number, pattern) in zip(uses, columns, strict=True):
        reels[number].append(use)
        for kind, count in pattern:
            covers[kind].append(count * use)
    most_over = max((each.pitches for each in task.lengths), default=0)
    for kind, terms in covers.items():
        # Where every content is listed, none need be cut down, and equality prunes more.
        count = task.wanted[kind]
        model.add_linear_constraint(sum(terms), count, count if is_all else count + most_over)
    for each, own in zip(task.lengths, reels, strict=True):
        if own:
            model.add(sum(own) <= each.most)
    model.add(sum(task.prices[number] * use for use, (number, _) in zip(uses, columns, strict=True)) == price)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = work
    status = solver.solve(model)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        counted = zip(uses, columns, strict=True)
        return Settled([column for use, column in counted for _ in range(solver.value(use))], False)
    return Settled(None, is_all and status == cp_model.INFEASIBLE)
