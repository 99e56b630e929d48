"""What a mend does, said so that it can be done: each act is one entry on record, one thing done by hand."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Shift:
    """These runs are fed otherwise, all of them at once. Blank: as it is; `decoder` "": straight on the
    output."""

    runs: tuple[str, ...]  # each as element/number
    supply: str = ""
    output: int | None = None
    decoder: str | None = None
    first_channel: int | None = None


@dataclass(frozen=True, slots=True)
class Relead:
    """The leads of a run are of another wire, or feed it at other ends."""

    run: str
    gauge: str
    feed_style: str


@dataclass(frozen=True, slots=True)
class Readdress:
    """A decoder, or one port of it, listens from another slot on."""

    decoder: str
    port: int | None
    universe: int
    start: int


@dataclass(frozen=True, slots=True)
class Replug:
    """A supply is plugged into another outlet."""

    supply: str
    outlet: str


Act = Shift | Relead | Readdress | Replug
