"""A plan with one unit put in the place of another: outputs, channels, slots, where it stands. In memory."""

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from service.control.addresses import slots_for
from service.electrical.supplies import output_limit_a
from service.limits.findings import Verdict, compared
from service.planning.snapshot.fed import Fed, fed_runs
from service.planning.snapshot.house import BankKind, DecoderKind, House, SourceKind, UnitRow
from service.planning.snapshot.show import ShowRows
from service.planning.supposing.rows import Allotted, Patched, Placed

LOOKED_AT = 20_000  # ways of packing feeds on outputs; what is not found in so many is not offered
Atom = tuple[Hashable, ...]


class DoesNotFitError(Exception):
    """Why one unit cannot take what another carries, in one line."""


@dataclass(frozen=True, slots=True)
class Moved:
    """One run, and the output or the first channel that it goes from and to."""

    run: str
    from_number: int
    to_number: int
    count: int = 1  # channels in a row


@dataclass(frozen=True, slots=True)
class Exchange:
    """The rows with the new unit in them, and each run that it carries."""

    rows: ShowRows
    moved: tuple[Moved, ...]


def carried(rows: ShowRows, unit_id: int) -> list[Fed]:
    own = {n: row for n, row in rows.allotments.items() if unit_id in (row.supply_id, row.decoder_id)}
    return fed_runs(replace(rows, allotments=own))


def exchanged(house: House, rows: ShowRows, old: UnitRow, new: UnitRow) -> Exchange:
    """The rows with `new` where `old` was. Raises DoesNotFitError."""
    if old.kind != new.kind:
        raise DoesNotFitError(f"it is a {new.kind}, not a {old.kind}")
    loads = carried(rows, old.id)
    if old.kind == "decoder":
        numbers = _channels(loads, old, house.decoders[old.model_id or 0], house.decoders[new.model_id or 0])
    else:
        numbers = _outputs(house, loads, house.sources[old.model_id or 0], house.sources[new.model_id or 0])
    allotments = dict(rows.allotments)
    moved = []
    for fed in loads:
        number, row = numbers[fed.run.id], Allotted.of(allotments[fed.run.id])
        if old.kind == "decoder":
            allotments[fed.run.id] = replace(row, decoder_id=new.id, first_channel=number)
            moved.append(Moved(fed.run_tag, fed.first_channel or 1, number, fed.channels))
        else:
            allotments[fed.run.id] = replace(row, supply_id=new.id, output=number)
            moved.append(Moved(fed.run_tag, fed.output, number))
    placings = {unit_id: row for unit_id, row in rows.placings.items() if unit_id != new.id}
    if old.id in placings:
        placings[new.id] = replace(Placed.of(placings.pop(old.id)), unit_id=new.id)
    patches = _patches(house, rows, old, new, moved) if old.kind == "decoder" else rows.patches
    return Exchange(replace(rows, allotments=allotments, placings=placings, patches=patches), tuple(moved))


def _outputs(house: House, loads: Sequence[Fed], old: SourceKind, new: SourceKind) -> dict[int, int]:
    """By run, the output of the new supply: the same number where that carries it, else packed afresh."""
    if new.class_v != old.class_v:
        raise DoesNotFitError(f"it is {new.class_v:g} V class; {old.class_v:g} V is wanted")
    atoms: dict[Atom, list[Fed]] = defaultdict(list)
    for fed in loads:
        atoms[_atom(house, fed)].append(fed)
    amps = {atom: sum(f.load_a for f in of) for atom, of in atoms.items()}
    stood = {atom: of[0].output for atom, of in atoms.items()}
    limits, before = _limits_a(house, new), _limits_a(house, old)
    if not _keeps_numbers(amps, stood, limits, before):
        stood = _packed(amps, stood, limits)
    return {fed.run.id: stood[atom] for atom, of in atoms.items() for fed in of}


def _atom(house: House, fed: Fed) -> Atom:
    """What has to stay on one output: the runs on one power feed of a decoder, else a run by itself."""
    if fed.decoder_id is None and fed.decoder_model_id is None:
        return (fed.output, 0, 0, fed.run.id)
    model_id = fed.decoder_model_id or house.named(fed.decoder_id or 0).model_id
    bank = _bank_of(house.decoders[model_id or 0].banks, fed.first_channel or 1, 1)
    return (fed.output, fed.decoder_id or -1, bank.number if bank else 0, 0 if fed.decoder_id else fed.run.id)


def _limits_a(house: House, kind: SourceKind) -> dict[int, float | None]:
    share = min(kind.load_factor or house.policy.load_factor, house.policy.output_factor)
    return {
        n: cap_a if cap_a is None or kind.kind == "battery" else output_limit_a(cap_a, share)
        for n, cap_a in enumerate(kind.caps_a, 1)
    }


def _holds(load_a: float, limit_a: float | None) -> bool:
    return limit_a is None or compared(load_a, limit_a) is Verdict.OK


def _keeps_numbers(
    amps: Mapping[Atom, float],
    stood: Mapping[Atom, int],
    limits: Mapping[int, float | None],
    before: Mapping[int, float | None],
) -> bool:
    """Whether every output carries what the one of its number did; one as strong as that was always does."""
    sums: Counter[int] = Counter()
    for atom, output in stood.items():
        sums[output] += amps[atom]  # type: ignore[assignment]
    return all(
        output in limits
        and (
            _holds(load_a, limits[output]) or (limits[output] or 0.0) >= (before.get(output) or float("inf"))
        )
        for output, load_a in sums.items()
    )


def _packed(
    amps: Mapping[Atom, float], stood: Mapping[Atom, int], limits: Mapping[int, float | None]
) -> dict[Atom, int]:
    """An output for each: the largest first, on the number that it had before any other."""
    order = sorted(amps, key=lambda atom: (-amps[atom], str(atom)))
    left = {n: float("inf") if limit_a is None else limit_a for n, limit_a in limits.items()}
    most_a = max(left.values(), default=0.0)
    worst = next((atom for atom in order if not _holds(amps[atom], most_a)), None)
    if worst is not None:
        raise DoesNotFitError(f"no output of it carries {amps[worst]:.2f} A; the most is {most_a:.2f} A")
    found: dict[Atom, int] = {}
    looked = 0

    def place(index: int) -> bool:
        nonlocal looked
        looked += 1
        if index == len(order):
            return True
        atom = order[index]
        for number in sorted(left, key=lambda n: (n != stood[atom], n)):
            if looked < LOOKED_AT and _holds(amps[atom], left[number]):
                left[number] -= amps[atom]
                found[atom] = number
                if place(index + 1):
                    return True
                left[number] += amps[atom]
        return False

    if not place(0):
        total_a, have_a = sum(amps.values()), sum(limits[n] or 0.0 for n in limits)
        raise DoesNotFitError(f"{total_a:.2f} A do not go on its outputs of {have_a:.2f} A in all")
    return found


def _channels(loads: Sequence[Fed], unit: UnitRow, old: DecoderKind, new: DecoderKind) -> dict[int, int]:
    """By run, the first channel on the new decoder: the same where it has them, else the first that fit."""
    _refuse_other_kind(loads, old, new)
    rows = _rows(loads)
    starts = {row: row[0] for row in rows}
    if any(_bank_of(new.banks, first, count) is None for first, count in rows):
        if new.signal == "pixel":
            raise DoesNotFitError(f"it has {new.channels} ports; port {max(r[0] for r in rows)} is used")
        starts = _rows_placed(loads, rows, unit, new)
    return {
        f.run.id: starts[row] + (f.first_channel or 1) - row[0]
        for f in loads
        for row in rows
        if row[0] <= (f.first_channel or 1) < row[0] + row[1]
    }


def _refuse_other_kind(loads: Sequence[Fed], old: DecoderKind, new: DecoderKind) -> None:
    for what, mine, its in (
        ("signal", old.signal, new.signal),
        ("polarity", old.polarity, new.polarity),
        ("control", old.link, new.link),
    ):
        if mine != its:
            raise DoesNotFitError(f"its {what} is {its}, not {mine}")
    for class_v in sorted({f.element.tape.class_v for f in loads if f.element.tape is not None}):
        if not new.min_v <= class_v <= new.max_v:
            raise DoesNotFitError(f"it takes {new.min_v:g} to {new.max_v:g} V, not {class_v:g} V")


def _rows(loads: Iterable[Fed]) -> list[tuple[int, int]]:
    """(first channel, channels) in use, those that overlap as one."""
    spans = sorted({(f.first_channel or 1, (f.first_channel or 1) + f.channels) for f in loads})
    joined: list[tuple[int, int]] = []
    for start, end in spans:
        if joined and start < joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return [(start, end - start) for start, end in joined]


def _rows_placed(
    loads: Sequence[Fed], rows: Sequence[tuple[int, int]], old: UnitRow, new: DecoderKind
) -> dict[tuple[int, int], int]:
    wanted = sum(count for _, count in rows)
    if new.channels < wanted:
        raise DoesNotFitError(f"it has {new.channels} channels; {wanted} are used on {old.tag}")
    free = {bank.number: bank.first_channel for bank in new.banks}
    fed_by: dict[int, tuple[Hashable, ...]] = {}
    starts = {}
    for row in rows:
        source = next(
            (f.supply_id, f.supply_model_id, f.output)
            for f in loads
            if row[0] <= (f.first_channel or 1) < sum(row)
        )
        for bank in new.banks:
            end = free[bank.number] + row[1]
            if end <= bank.first_channel + bank.channels and fed_by.get(bank.number, source) == source:
                starts[row], free[bank.number], fed_by[bank.number] = free[bank.number], end, source
                break
        else:
            raise DoesNotFitError(f"no power feed of it has {row[1]} channels left in a row")
    return starts


def _bank_of(banks: Iterable[BankKind], first: int, count: int) -> BankKind | None:
    return next(
        (b for b in banks if b.first_channel <= first and first + count <= b.first_channel + b.channels), None
    )


def _patches(
    house: House, rows: ShowRows, old: UnitRow, new: UnitRow, moved: Sequence[Moved]
) -> tuple[Any, ...]:
    """The replacement answers where the old one did, with as many slots as it has itself."""
    kind = house.decoders[new.model_id or 0]
    same = old.model_id == new.model_id
    ports = {m.from_number: m.to_number for m in moved}
    found = []
    for patch in rows.patches:
        if patch.decoder_id == new.id:
            continue
        if patch.decoder_id == old.id:
            port = ports.get(patch.port, patch.port)
            patch = replace(Patched.of(patch), decoder_id=new.id, port=port)
            if not same and kind.signal != "pixel" and patch.footprint is not None:
                patch = replace(patch, footprint=_footprint(kind, patch.mode))
        found.append(patch)
    return tuple(found)


def _footprint(kind: DecoderKind, mode: str) -> int:
    if not mode.startswith("16"):
        return kind.footprint_8bit or slots_for(kind.channels)
    if kind.footprint_16bit is None:
        raise DoesNotFitError(f"it has no {mode} mode")
    return kind.footprint_16bit
