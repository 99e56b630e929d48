"""A feed moved by hand, in the rows of a plan: supposed and stored by the same rules."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from service.control.addresses import Span, first_fit, slots_for
from service.errors import BadRequest, Refused
from service.planning.schemas import FeedMove
from service.planning.snapshot.house import DecoderKind, House, SourceKind, UnitRow
from service.planning.snapshot.show import ElementRow, RunRow, ShowRows
from service.planning.supposing.rows import Allotted, Patched, Placed

SOURCES, DECODERS = ("supply", "battery"), ("decoder",)
# Finds a unit of one of these kinds by its tag; raises where there is none or it may not be taken.
Finder = Callable[[str, Sequence[str]], UnitRow]


@dataclass(slots=True)
class _Desk:
    """What the move is worked out on. `rows` are as they stood before it."""

    house: House
    rows: ShowRows
    element: ElementRow
    find: Finder
    allotments: dict[int, Allotted] = field(default_factory=dict)
    placings: dict[int, Placed] = field(default_factory=dict)
    patches: list[Patched] = field(default_factory=list)


def rearranged(
    house: House, rows: ShowRows, element: ElementRow, runs: Sequence[RunRow], to: FeedMove, find: Finder
) -> ShowRows:
    """The rows with these runs of the element fed as wanted; what is not said stays as it is.

    Raises BadRequest, Refused, and what `find` raises.
    """
    desk = _Desk(
        house, rows, element, find,
        {run_id: Allotted.of(row) for run_id, row in rows.allotments.items()},
        {unit_id: Placed.of(row) for unit_id, row in rows.placings.items()},
        [Patched.of(row) for row in rows.patches],
    )  # fmt: skip
    for run in runs:
        _feed(desk, run, to)
    return replace(rows, allotments=desk.allotments, placings=desk.placings, patches=tuple(desk.patches))


def unfed(rows: ShowRows, runs: Sequence[RunRow]) -> ShowRows:
    """The rows with nothing feeding these runs; the gear stays where it stands."""
    gone = {run.id for run in runs}
    left = {run_id: row for run_id, row in rows.allotments.items() if run_id not in gone}
    return replace(rows, allotments=left)


def _feed(desk: _Desk, run: RunRow, to: FeedMove) -> None:
    allotted = desk.allotments.get(run.id)
    if allotted is None:
        if to.supply is None:
            raise BadRequest(
                f"{desk.element.tag} is not fed yet", "Name the supply, and the decoder if dimmed."
            )
        allotted = Allotted(run.id, None, None, 1, None, None, None, 0, False)
    if to.supply is not None:
        allotted = _on_supply(desk, allotted, to.supply)
    if to.output is not None:
        allotted = replace(allotted, output=to.output)
    _check_output(desk, allotted)
    desk.allotments[run.id] = allotted
    if to.decoder is not None:
        allotted = _on_decoder(desk, allotted, to.decoder)
    if to.first_channel is not None:
        allotted = replace(allotted, first_channel=to.first_channel)
    allotted = _on_channels(desk, allotted)
    if to.locked is not None:
        allotted = replace(allotted, is_locked=to.locked)
    desk.allotments[run.id] = allotted


def _on_supply(desk: _Desk, allotted: Allotted, tag: str) -> Allotted:
    unit = desk.find(tag, SOURCES)
    before = allotted.supply_id
    output = allotted.output if before == unit.id else 1
    _stand(desk, unit, before)
    return replace(allotted, supply_id=unit.id, supply_model_id=None, output=output)


def _stand(desk: _Desk, unit: UnitRow, beside: int | None) -> None:
    """A unit that is new in the show stands where the one it takes over from stood."""
    if unit.id in desk.placings:
        return
    like = desk.placings.get(beside or 0)
    desk.placings[unit.id] = Placed(
        unit_id=unit.id,
        place_id=None if like is None else like.place_id,
        scenic_unit_id=None if like is None else like.scenic_unit_id,
        enclosure_id=None if like is None else like.enclosure_id,
        outlet_id=like.outlet_id if like is not None and unit.kind == "supply" else None,
    )


def _source(desk: _Desk, allotted: Allotted) -> SourceKind:
    model_id = allotted.supply_model_id
    if allotted.supply_id is not None:
        model_id = desk.house.named(allotted.supply_id).model_id
    return desk.house.sources[model_id or 0]


def _check_output(desk: _Desk, allotted: Allotted) -> None:
    kind = _source(desk, allotted)
    if not 1 <= allotted.output <= len(kind.caps_a):
        count = len(kind.caps_a)
        it_has = "It has one output." if count == 1 else f"It has outputs 1 to {count}."
        name = _named(desk, allotted.supply_id, kind.tag)
        raise BadRequest(f"{name} has no output {allotted.output}", it_has)


def _named(desk: _Desk, unit_id: int | None, model: str) -> str:
    """A unit with its model, as in "DC-1 (D4)"; the model alone where no unit is chosen yet."""
    return model if unit_id is None else f"{desk.house.named(unit_id).tag} ({model})"


def _on_decoder(desk: _Desk, allotted: Allotted, tag: str) -> Allotted:
    before = allotted.decoder_id
    if tag == "":
        return replace(allotted, decoder_id=None, decoder_model_id=None, first_channel=None, channels=0)
    unit = desk.find(tag, DECODERS)
    tape = desk.element.tape
    allotted = replace(
        allotted,
        decoder_id=unit.id,
        decoder_model_id=None,
        channels=1 if tape and tape.signal == "pixel" else len(desk.element.wired),
        first_channel=allotted.first_channel if before == unit.id else None,
    )
    desk.allotments[allotted.run_id] = allotted
    _stand(desk, unit, before or allotted.supply_id)
    _address(desk, unit, before)
    return allotted


def _address(desk: _Desk, unit: UnitRow, before: int | None) -> None:
    """A decoder that takes over from one with nothing left on it inherits its address; else the first
    free."""
    if any(p.decoder_id == unit.id for p in desk.patches):
        return
    is_left = any(a.decoder_id == before for a in desk.allotments.values())
    if not is_left and any(p.decoder_id == before for p in desk.patches):
        desk.patches = [replace(p, decoder_id=unit.id) if p.decoder_id == before else p for p in desk.patches]
        return
    kind = desk.house.decoders[unit.model_id or 0]
    if kind.signal == "pixel":
        return  # how many slots a port takes depends on its pixels; reported as not known until entered
    spans = [
        Span(p.universe, p.start, p.footprint)
        for p in desk.rows.patches
        if p.universe and p.start and p.footprint
    ]
    footprint = kind.footprint_8bit or slots_for(kind.channels)
    first = desk.rows.production.default_universe or min((s.universe for s in spans), default=1)
    [(universe, start)] = first_fit([footprint], spans, first)
    desk.patches.append(Patched(None, unit.id, 0, universe, start, footprint, "8-bit", None, ""))


def _decoder(desk: _Desk, allotted: Allotted) -> DecoderKind | None:
    model_id = allotted.decoder_model_id
    if allotted.decoder_id is not None:
        model_id = desk.house.named(allotted.decoder_id).model_id
    return desk.house.decoders.get(model_id or 0)


def _on_channels(desk: _Desk, allotted: Allotted) -> Allotted:
    kind = _decoder(desk, allotted)
    if kind is None:
        if allotted.first_channel is not None:
            raise BadRequest("a channel needs a decoder", "Name the decoder, or leave the channel out.")
        return allotted
    first = allotted.first_channel or _first_free(desk, allotted, kind)
    last = first + allotted.channels - 1
    if not any(b.first_channel <= first and last < b.first_channel + b.channels for b in kind.banks):
        name = _named(desk, allotted.decoder_id, kind.tag)
        rows = " and ".join(f"{b.first_channel} to {b.first_channel + b.channels - 1}" for b in kind.banks)
        raise BadRequest(
            f"channels {first} to {last} are not on {name}"
            if last > first
            else f"channel {first} is not on {name}",
            f"Its channels with one power feed are {rows}.",
        )
    return replace(allotted, first_channel=first)


def _first_free(desk: _Desk, allotted: Allotted, kind: DecoderKind) -> int:
    """The lowest row of channels nobody has; the element's own other runs share theirs."""
    own = {run.id for run in desk.element.runs}
    others = [
        a
        for a in desk.allotments.values()
        if a.decoder_id == allotted.decoder_id and a.first_channel and a.run_id != allotted.run_id
    ]
    for other in others:
        if other.run_id in own and other.channels == allotted.channels:
            return other.first_channel or 1
    busy = {channel for other in others for channel in range(_first(other), _first(other) + other.channels)}
    for bank in kind.banks:
        for first in range(bank.first_channel, bank.first_channel + bank.channels - allotted.channels + 1):
            if not busy & set(range(first, first + allotted.channels)):
                return first
    wanted = "free channel" if allotted.channels == 1 else f"{allotted.channels} free channels in a row"
    name = _named(desk, allotted.decoder_id, kind.tag)
    raise Refused(f"{name} has no {wanted}", "Choose a decoder with room.")


def _first(allotted: Allotted) -> int:
    return allotted.first_channel or 1
