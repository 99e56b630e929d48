"""The tree of a supply as a drawing: where each box stands, so that the page only has to draw it."""

from collections.abc import Sequence
from dataclasses import dataclass, field

ROW = 40  # px between two elements
TOP = 30
ROOM_OF_SUPPLY = 46  # px below the heads; a supply that feeds one element is drawn higher than its line
# Left edges of the columns: outlet, supply, output, decoder, channels, element.
OUTLET_X, SUPPLY_X, OUTPUT_X, DECODER_X, CHANNELS_X, ELEMENT_X = 0, 100, 270, 410, 560, 660
WIDTH = 960


@dataclass(frozen=True, slots=True)
class Twig:
    """One way out of an output to runs of an element."""

    output: int
    output_text: str
    decoder: str
    channels: str
    element: str
    name: str
    load_text: str


@dataclass(frozen=True, slots=True)
class Box:
    """A box with its text, `y` at its middle."""

    text: str
    y: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class Leaf:
    """An element at the end of a twig. `from_y`: the middle of the decoder before it."""

    twig: Twig
    y: float
    from_y: float


@dataclass(frozen=True, slots=True)
class Tree:
    """`joins`: lines between columns as (x, y, x, y, bend at x)."""

    height: float
    supply_y: float
    outputs: Sequence[Box]
    decoders: Sequence[tuple[Box, float]]
    leaves: Sequence[Leaf] = field(default=())
    width: int = WIDTH


def tree(twigs: Sequence[Twig]) -> Tree | None:
    """The drawing of those twigs, in the order of outputs, decoders and channels; None without any."""
    if not twigs:
        return None
    rows = {id(twig): TOP + ROW * (number + 0.5) for number, twig in enumerate(twigs)}
    outputs, decoders, leaves = [], [], []
    for output in dict.fromkeys(twig.output for twig in twigs):
        on_it = [twig for twig in twigs if twig.output == output]
        output_y = _middle([rows[id(twig)] for twig in on_it])
        outputs.append(Box(str(output), output_y, on_it[0].output_text))
        for decoder in dict.fromkeys(twig.decoder for twig in on_it):
            through = [twig for twig in on_it if twig.decoder == decoder]
            decoder_y = _middle([rows[id(twig)] for twig in through])
            decoders.append((Box(decoder, decoder_y), output_y))
            leaves += [Leaf(twig, rows[id(twig)], decoder_y) for twig in through]
    tall = TOP + max(ROW * len(twigs), ROOM_OF_SUPPLY)
    return Tree(tall, _middle([box.y for box in outputs]), outputs, decoders, leaves)


def _middle(spots: Sequence[float]) -> float:
    """
    >>> _middle([10.0, 20.0, 60.0])
    35.0
    """
    return (min(spots) + max(spots)) / 2.0
