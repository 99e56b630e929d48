"""All ways to cut all reels as one whole-number program: a reel is a path along its cut marks.

    arc     from mark u to mark u + w: a piece of kind w is cut there
    end     at mark t of a reel of some length: what is left is worth keeping, or scrap
    lot     the match group is cut from this layer; or it is left out
    short   a piece without a group is left out
    split   a piece is joined of two parts, both from one layer

What flows into a mark flows out of it, every kind is cut exactly as often as it is wanted, and no length is
used more often than it is there. Exactly, not at least: tape cut off beyond what is wanted would hide
what is left. Source: Valerio de Carvalho, Annals of Operations Research 86 (1999) (from memory).
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from service.cutting.board import ANY, Board, Group, Kind, Length, Sort
from service.cutting.problem import Rules

# Classes, not tuples: an end and a lot with equal numbers must not be one thing.


@dataclass(frozen=True, slots=True)
class Arc:
    layer: int
    start: int
    kind: Kind


@dataclass(frozen=True, slots=True)
class End:
    length: int
    at: int


@dataclass(frozen=True, slots=True)
class Lot:
    group: int
    layer: int


@dataclass(frozen=True, slots=True)
class Out:
    group: int


@dataclass(frozen=True, slots=True)
class Short:
    sort: Sort


@dataclass(frozen=True, slots=True)
class Split:
    kind: Kind
    part: int
    layer: int


Thing = Arc | End | Lot | Out | Short | Split
Row = tuple[str, *tuple[object, ...]]


@dataclass(slots=True)
class Column:
    thing: Thing
    most: int
    entries: dict[Row, int]


@dataclass(slots=True)
class Sheet:
    """The program: columns, and for each row the least and most that it may come to (None: no most)."""

    board: Board
    rules: Rules
    columns: list[Column] = field(default_factory=list)
    rows: dict[Row, tuple[int | None, int]] = field(default_factory=dict)
    number: dict[Thing, int] = field(default_factory=dict)

    def add(self, thing: Thing, most: int, entries: dict[Row, int]) -> None:
        self.number[thing] = len(self.columns)
        self.columns.append(Column(thing, most, entries))


def write_sheet(board: Board, rules: Rules, with_joints: bool = False) -> Sheet:
    """The program of a board; with joints, pieces that may be joined can be."""
    sheet = Sheet(board, rules)
    wanted = _wanted_by_layer(board)
    parts = _parts(board, rules) if with_joints else {}
    for layer in sorted({each.layer for each in board.lengths}):
        _add_layer(sheet, layer, wanted, parts.get(layer, Counter()))
    _add_pieces(sheet)
    for number, group in enumerate(board.groups):
        _add_group(sheet, number, group)
    if with_joints:
        _add_splits(sheet)
    return sheet


def count_columns(board: Board, rules: Rules, with_joints: bool = False) -> int:
    """No program of this board has more columns."""
    wanted = _wanted_by_layer(board)
    parts = _parts(board, rules) if with_joints else {}
    columns = sum(each.pitches for each in board.lengths)
    for layer in {each.layer for each in board.lengths}:
        longest = board.reach_of(layer)
        kinds = [*wanted[ANY], *(wanted.get(layer, Counter()) + parts.get(layer, Counter()))]
        columns += sum(max(0, longest - pitches + 1) for pitches in kinds)
    return columns + sum(len(own) for own in parts.values())


def _wanted_by_layer(board: Board) -> dict[int, Counter[int]]:
    """How often each length could be cut, at most, by layer of the kind."""
    wanted = {ANY: board.single_by_length()}
    for group in board.groups:
        for layer in group.layers:
            wanted.setdefault(layer, Counter()).update(group.by_length())
    return wanted


def _joinable(board: Board) -> Iterator[tuple[int, Sort, int]]:
    """Layer, sort and count of what may be joined."""
    every = sorted(board.joined)
    for sort, count in sorted(board.single.items()):
        if sort.may_join:
            yield from ((layer, sort, count) for layer in every)
    for group in board.groups:
        for sort, count in sorted(group.pieces.items()):
            if sort.may_join:
                yield from ((layer, sort, count) for layer in group.layers if layer in every)


def _parts(board: Board, rules: Rules) -> dict[int, Counter[int]]:
    """How often each length could be cut as a part, by layer."""
    parts: dict[int, Counter[int]] = {}
    for layer, sort, count in _joinable(board):
        for part in _ways_to_join(sort.pitches, board.reach_of(layer), rules):
            own = parts.setdefault(layer, Counter())
            own[part] += count
            own[sort.pitches - part] += count
    return parts


def _ways_to_join(pitches: int, longest: int, rules: Rules) -> range:
    """Lengths of the shorter part."""
    shortest = max(rules.shortest_joined_pitches, pitches - longest)
    return range(shortest, min(pitches // 2, longest) + 1)


def _add_layer(sheet: Sheet, layer: int, wanted: Mapping[int, Counter[int]], parts: Counter[int]) -> None:
    """Arcs and ends of one layer."""
    longest = sheet.board.reach_of(layer)
    single, own = wanted[ANY], wanted.get(layer, Counter()) + parts
    marks = {0}
    for pitches in sorted({*single, *own}, reverse=True):
        starts: set[int] = set()
        most = single[pitches] + own[pitches]
        for start in sorted(marks):
            for at in range(start, min(longest, start + most * pitches) - pitches + 1, pitches):
                starts.add(at)
        marks |= {start + pitches for start in starts}
        for start in sorted(starts):
            for kind, count in (((pitches, ANY), single[pitches]), ((pitches, layer), own[pitches])):
                if count:
                    entries: dict[Row, int] = {
                        ("mark", layer, start): -1,
                        ("mark", layer, start + pitches): 1,
                        ("kind", *kind): 1,
                    }
                    sheet.add(Arc(layer, start, kind), count, entries)
    for mark in sorted(marks):
        sheet.rows["mark", layer, mark] = (0, 0)
    for number, length in enumerate(sheet.board.lengths):
        if length.layer == layer:
            _add_ends(sheet, number, length, marks)


def _add_ends(sheet: Sheet, number: int, length: Length, marks: set[int]) -> None:
    own: dict[Row, int] = {("length", number): 1}
    sheet.rows["length", number] = (None, length.most)
    if length.is_new:
        own["bought", length.pitches] = 1
        sheet.rows["bought", length.pitches] = (None, sheet.board.can_be_had[length.pitches])
    if length.layer in sheet.board.lone:
        own["lone", length.layer] = 1
        sheet.rows["lone", length.layer] = (None, 1)
    for mark in sorted(marks):
        if 0 < mark <= length.pitches:
            ends: dict[Row, int] = {("mark", length.layer, 0): 1, ("mark", length.layer, mark): -1}
            sheet.add(End(number, mark), length.most, own | ends)


def _add_pieces(sheet: Sheet) -> None:
    """Pieces without a group: cut, joined or left out."""
    board = sheet.board
    for pitches, count in sorted(board.single_by_length().items()):
        sheet.rows["kind", pitches, ANY] = (count, count)
    for sort, count in sorted(board.single.items()):
        if sort.may_join:
            sheet.rows["joined", sort.pitches, ANY] = (None, _joinable_count(board.single, sort.pitches))
        if not board.must_meet:
            entries: dict[Row, int] = {("kind", sort.pitches, ANY): 1}
            if sort.may_join:
                entries["joined", sort.pitches, ANY] = 1
            sheet.add(Short(sort), count, entries)


def _joinable_count(sorts: Mapping[Sort, int], pitches: int) -> int:
    return sum(count for sort, count in sorts.items() if sort.may_join and sort.pitches == pitches)


def _add_group(sheet: Sheet, number: int, group: Group) -> None:
    """A group is cut from one of its layers, or left out; each layer it may come from wants its pieces."""
    sheet.rows["group", number] = (1, 1)
    for layer in group.layers:
        entries: dict[Row, int] = {("group", number): 1}
        for pitches, count in sorted(group.by_length().items()):
            sheet.rows["kind", pitches, layer] = (0, 0)
            entries["kind", pitches, layer] = -count
            if joinable := _joinable_count(group.pieces, pitches):
                sheet.rows["joined", pitches, layer] = (None, 0)
                entries["joined", pitches, layer] = -joinable
        sheet.add(Lot(number, layer), 1, entries)
    if not sheet.board.must_meet:
        sheet.add(Out(number), 1, {("group", number): 1})


def _add_splits(sheet: Sheet) -> None:
    """A joined piece is one piece less to cut and two parts more."""
    board, made = sheet.board, set[Split]()
    for layer, sort, count in _joinable(board):
        for kind in ((sort.pitches, ANY), (sort.pitches, layer)):
            for part in _ways_to_join(sort.pitches, board.reach_of(layer), sheet.rules):
                split = Split(kind, part, layer)
                if ("joined", *kind) not in sheet.rows or split in made:
                    continue
                made.add(split)
                entries: Counter[Row] = Counter({("kind", *kind): 1, ("joined", *kind): 1})
                for each in (part, sort.pitches - part):
                    sheet.rows.setdefault(("kind", each, layer), (0, 0))
                    entries["kind", each, layer] -= 1
                most = sum(board.single.values()) if kind[1] == ANY else count * len(board.groups)
                sheet.add(split, most, dict(entries))


def aims(sheet: Sheet, priorities: Sequence[int]) -> dict[str, dict[int, int]]:
    """What each column counts for in each aim: unmet by priority, price, opened, joints, scrap, offcuts."""
    counts: dict[str, dict[int, int]] = {f"unmet {each}": {} for each in priorities}
    counts |= {"price": {}, "opened": {}, "joints": {}, "scrap": {}, "offcuts": {}}
    keep = sheet.rules.keep_pitches
    for number, column in enumerate(sheet.columns):
        match column.thing:
            case Short(sort):
                counts[f"unmet {sort.priority}"][number] = 1
            case Out(group):
                for sort, count in sheet.board.groups[group].pieces.items():
                    own = counts[f"unmet {sort.priority}"]
                    own[number] = own.get(number, 0) + count
            case Split():
                counts["joints"][number] = 1
            case End(length, at):
                reel = sheet.board.lengths[length]
                left = reel.pitches - at
                counts["price"][number] = reel.price_cents
                counts["opened"][number] = int(reel.is_sealed)
                counts["scrap"][number] = left if left < keep else 0
                # An offcut that is used up is one less on the shelf.
                was_there = not reel.is_new and not reel.is_sealed and reel.pitches >= keep
                counts["offcuts"][number] = int(left >= keep) - int(was_there)
    return {aim: {n: each for n, each in own.items() if each} for aim, own in counts.items()}
