"""The address sheet: universe by universe, which slot is which colour of which element."""

from collections import defaultdict

from sqlalchemy.orm import Session

from service.control.lines import refresh_hz
from service.limits.cautions import CONTROL
from service.limits.findings import Finding
from service.paper.prints.feeding.show import Address, Show, Way, read_show, ways, worst_of
from service.paper.prints.table import (
    NONE,
    OVER,
    Block,
    Column,
    Kind,
    Paper,
    Row,
    Says,
    Wanted,
    told,
    told_once,
)  # fmt: skip

NAME = "address-sheet"
COLUMNS = (
    Column("slot"), Column("decoder-tag", is_tag=True), Column("channel"), Column("emitter"),
    Column("element", is_tag=True), Column("name", is_wide=True), Column("amps", "A"), Column("limit", "A"),
    Column("group"), Column("stands-at"),
)  # fmt: skip
SHARED = (Column("universe"),)
LIMITS = ("address-known", "universe", "address-overlap", "pixels", "channel-amps")


def make(session: Session, wanted: Wanted) -> Paper:
    """Raises NotFound for a show that is not there."""
    show = read_show(session, wanted)
    said = show.said(*LIMITS)
    found: dict[int | None, list[tuple[Address, Row]]] = defaultdict(list)
    for way in ways(show.facts.elements):
        decoder = show.around.decoders.get(way.feed.decoder or "")
        if decoder is not None and decoder.link != "local":
            for address, row in _rows(show, way, said):
                found[address.universe].append((address, row))
    blocks = [
        _block(universe, rows)
        for universe, rows in sorted(found.items(), key=lambda pair: pair[0] or 1 << 30)
    ]
    over = sum(row.state == OVER for block in blocks for row in block.rows)
    missing = len(found.get(None, ()))
    values = {"over": over, "missing": missing, "universes": len(blocks) - bool(missing),
              "slots": sum(len(b.rows) for b in blocks)}  # fmt: skip
    key = "over" if over else "missing" if missing else "none" if not blocks else "fine"
    return Paper(NAME, Says(f"{NAME}-{key}", values), COLUMNS, blocks, SHARED, (CONTROL,), is_wide=True)


def _block(universe: int | None, found: list[tuple[Address, Row]]) -> Block:
    ordered = sorted(found, key=lambda pair: (pair[0].slot or 0, str(pair[1].cells["decoder-tag"]),
                                              str(pair[1].cells["element"])))  # fmt: skip
    rows = told_once([row for _, row in ordered])
    if universe is None:
        return Block("", Says("no-address"), rows, state=NONE)
    last = max(row.cells["last"] for row in rows)
    notes = [Says("slots-used", {"last": last, "hz": round(refresh_hz(min(last, 512)), 1)})]
    return Block(str(universe), "", rows, {"universe": universe}, notes)


def _rows(show: Show, way: Way, said: dict[str, Finding]) -> list[tuple[Address, Row]]:
    """One row a channel of a level decoder, one a port of a pixel driver. Elements that share channels
    each have theirs."""
    feed, element = way.feed, way.element
    decoder = show.around.decoders[feed.decoder or ""]
    is_pixel = decoder.signal == "pixel"
    first = feed.first_channel
    channels = [first] if is_pixel or first is None else range(first, first + feed.channels)
    limit_a = show.around.channel_limit_a(decoder)
    loads = {channel.number: channel.load_a for bank in decoder.banks for channel in bank.channels}
    found = []
    for n, channel in enumerate(channels):
        address = show.address(feed, channel)
        finding = said.get(f"{decoder.tag} port {channel}") if is_pixel else said.get(decoder.tag)
        amps = said.get(f"{decoder.tag} {'port' if is_pixel else 'channel'} {channel}")
        worst = worst_of((finding, amps))
        last = _last(show, way, address)
        cells = {
            "slot": _slot_text(address, last if is_pixel else 0),
            "last": last,
            "decoder-tag": decoder.tag,
            "channel": channel,
            "emitter": "" if is_pixel else element.wired[n] if n < len(element.wired) else "",
            "element": element.tag,
            "name": element.name,
            "amps": loads.get(channel or 0),
            "limit": limit_a,
            "group": element.control_group,
            "stands-at": show.stands(decoder),
        }
        found.append((address, told(cells, worst)))
    return found


def _slot_text(address: Address, last: int) -> str:
    """
    >>> _slot_text(Address(1, 7), 0), _slot_text(Address(1, 7), 186), _slot_text(Address(), 0)
    ('007', '007–186', '')
    """
    if address.slot is None:
        return ""
    return f"{address.slot:03d}" + (f"–{last:03d}" if last > address.slot else "")


def _last(show: Show, way: Way, address: Address) -> int:
    """The last slot that a row takes: the second of a 16-bit channel, the end of a pixel port."""
    if address.slot is None:
        return 0
    for patch in show.around.patches_of.get(way.feed.decoder or "", ()):
        if patch.port is not None and patch.universe == address.universe and patch.start == address.slot:
            return address.slot + (patch.footprint or 1) - 1
        if patch.port is None:
            return address.slot + (1 if patch.mode == "16-bit" else 0)
    return address.slot


KIND = Kind(NAME, make, is_followed=True)
