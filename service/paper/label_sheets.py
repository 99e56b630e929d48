"""Sheets of labels by their measures, and what stands where on each label. Millimetres throughout."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from itertools import groupby
from textwrap import wrap

import segno

from service.errors import BadRequest
from service.paper.labels import Label

SLACK_MM = 0.05
PAD_MM = 1.5
EDGE_MM = 0.5  # left free above and below the words
GAP_MM = 1.0  # between the code and the words
LARGEST_CODE_MM = 24.0
SMALL_MM = 50.0  # a label narrower than this has room for its tag and one line
QUIET_MODULES = 4  # clear squares around the code; ISO/IEC 18004
LEAST_MODULE_MM = 0.35  # common practice for a phone's camera at arm's length
GLYPH = 0.56  # width of an average letter in the height of the type, of the face that pages use
TAG_GLYPH = GLYPH * 1.1  # of the bold face
TAG_LEAD, LEAD = 1.1, 1.2  # from one line to the next in the height of the type, with what hangs below
LEAST_TYPE_MM = 2.0  # common practice: about 6 pt
LEAST_LETTERS = 4  # a line of fewer says nothing
MOST_LABELS = 2000


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """Ten measures, in mm: the page, how many labels across and down, one label, the first one's left and top
    edge, and the way from one to the next."""

    page_w: float
    page_h: float
    across: int
    down: int
    label_w: float
    label_h: float
    left: float
    top: float
    pitch_x: float
    pitch_y: float

    def __post_init__(self) -> None:
        if not 1 <= self.across <= 40 or not 1 <= self.down <= 60:
            raise BadRequest("a sheet has 1 to 40 labels across and 1 to 60 down", "Count them again.")
        if not all(20 <= side <= 1000 for side in (self.page_w, self.page_h)):
            raise BadRequest("a page is 20 to 1000 mm wide and high", "Measure the sheet again.")
        if self.label_w < 10 or self.label_h < 8:
            raise BadRequest(
                "a label of less than 10 × 8 mm has no room for a tag and a code", "Take larger labels."
            )
        overlaps = (self.across > 1 and self.pitch_x < self.label_w - SLACK_MM) or (
            self.down > 1 and self.pitch_y < self.label_h - SLACK_MM
        )
        if overlaps:
            raise BadRequest(
                "these labels would lie on one another",
                "Measure from the left edge of one label to the left edge of the next.",
            )
        right = self.left + (self.across - 1) * self.pitch_x + self.label_w
        foot = self.top + (self.down - 1) * self.pitch_y + self.label_h
        if min(self.left, self.top) < 0 or right > self.page_w + SLACK_MM or foot > self.page_h + SLACK_MM:
            raise BadRequest(
                f"these labels reach {max(right, 0):.4g} × {max(foot, 0):.4g} mm, beyond the page of "
                f"{self.page_w:g} × {self.page_h:g} mm",
                "Measure the edges and the way from label to label again.",
            )

    @property
    def per_page(self) -> int:
        return self.across * self.down

    def corner(self, n: int) -> tuple[float, float]:
        """Left and top edge of the n-th label of a page, from 0, row by row."""
        row, column = divmod(n % self.per_page, self.across)
        return self.left + column * self.pitch_x, self.top + row * self.pitch_y


# Measures of sheets that are sold everywhere; from memory, to be held against the sheet in hand.
SHEETS: dict[str, LabelSheet] = {
    "a4-3x8": LabelSheet(210, 297, 3, 8, 63.5, 33.9, 7.2, 12.9, 66.0, 33.9),
    "a4-5x13": LabelSheet(210, 297, 5, 13, 38.1, 21.2, 4.7, 10.7, 40.6, 21.2),
    "letter-3x10": LabelSheet(215.9, 279.4, 3, 10, 66.7, 25.4, 4.8, 12.7, 69.9, 25.4),
}
MEASURES = tuple(field.name for field in fields(LabelSheet))


@dataclass(frozen=True, slots=True)
class Line:
    """Words on a label: where their foot is, and how high the type is."""

    text: str
    y: float
    size: float


@dataclass(frozen=True, slots=True)
class Code:
    """A code (ISO/IEC 18004, level M), a unit a square; `squares`: on a side, its clear edge too."""

    path: str
    squares: int


@dataclass(frozen=True, slots=True)
class Drawn:
    """One label in its place. `code` stands at `x`, `y`; `square`: mm of one of its squares. `tag`: one line,
    more where it would be too small to read in one."""

    x: float
    y: float
    square: float
    code: Code
    text_x: float
    tag: tuple[Line, ...]
    lines: tuple[Line, ...]
    label: Label


@dataclass(frozen=True, slots=True)
class Sheetful:
    """The labels of one page; `used`: how many places at its start are empty already."""

    drawn: tuple[Drawn, ...]
    used: int


def sheetfuls(labels: Sequence[Label], sheet: LabelSheet, base: str, skip: int = 0) -> Iterator[Sheetful]:
    """The labels page by page, the first `skip` places left out; each is drawn when it is asked for. `base`:
    the service as phones reach it.

    Raises BadRequest for more than fit, for a sheet that is used up, or for a tag too long for its labels.
    """
    check_count(labels)
    check_used(sheet, skip)
    check_tags(labels, sheet)
    return _pages(labels, sheet, base, skip)


def check_count(labels: Sequence[Label]) -> None:
    """Raises BadRequest where these are more than are laid out at once."""
    if len(labels) > MOST_LABELS:
        raise BadRequest(f"these are {len(labels)} labels; at most {MOST_LABELS} at once", "Choose fewer.")


def check_used(sheet: LabelSheet, used: int) -> None:
    """Raises BadRequest where a sheet cannot have so many used labels and one that is left."""
    if not 0 <= used < sheet.per_page:
        raise BadRequest(
            f"a sheet of {sheet.per_page} has no {used} used labels and one left", "Take a new sheet: 0."
        )


def check_tags(labels: Sequence[Label], sheet: LabelSheet) -> None:
    """Raises BadRequest where a tag does not stand on its label whole in a type that can be read, with the
    sheet that would hold it."""
    longest = next((label.tag for label in labels if not _holds(sheet, label.tag)), None)
    if longest is None:
        return
    other = next((one for one in SHEETS.values() if all(_holds(one, label.tag) for label in labels)), None)
    mend = "Take larger labels, or print it by itself on a sheet of its own."
    if other is not None:
        mend = (
            f"Take the sheet of {other.across} × {other.down} labels of {other.label_w:g} × "
            f"{other.label_h:g} mm, or larger ones of your own."
        )
    raise BadRequest(
        f"the tag {longest} does not stand on a label of {sheet.label_w:g} × {sheet.label_h:g} mm in letters "
        f"of {LEAST_TYPE_MM:g} mm",
        mend,
    )


def _holds(sheet: LabelSheet, tag: str) -> bool:
    return len(_tag_lines(tag, sheet)) * LEAST_TYPE_MM * TAG_LEAD <= sheet.label_h - 2 * EDGE_MM


def _tag_lines(tag: str, sheet: LabelSheet) -> list[str]:
    """The tag in one line where it can be read so, else broken, behind a hyphen where it has one."""
    letters = max(1, int(_room_w(sheet) / (TAG_GLYPH * LEAST_TYPE_MM)))
    return wrap(tag, letters) or [tag]


def pages_wanted(labels: int, sheet: LabelSheet, skip: int = 0) -> int:
    """How many pages so many labels fill, the first `skip` places left out; none take one, left blank.

    >>> [pages_wanted(n, SHEETS["a4-3x8"], skip=2) for n in (0, 22, 23, 46, 47)]
    [1, 1, 2, 2, 3]
    """
    return max(1, -(-(labels + skip) // sheet.per_page))


def _pages(labels: Sequence[Label], sheet: LabelSheet, base: str, skip: int) -> Iterator[Sheetful]:
    first = sheet.per_page - skip
    yield Sheetful(tuple(_draw(one, sheet, n + skip, base) for n, one in enumerate(labels[:first])), skip)
    for start in range(first, len(labels), sheet.per_page):
        some = labels[start : start + sheet.per_page]
        yield Sheetful(tuple(_draw(one, sheet, n, base) for n, one in enumerate(some)), 0)


def link(label: Label, base: str) -> str:
    """Where the code leads. In capitals a code is coarser and read from farther away: names of hosts do not
    mind, and neither do labels.

    >>> link(Label("PS-01", "supply", "", "", "/l/PS-01"), "http://rack.example:8042/")
    'HTTP://RACK.EXAMPLE:8042/L/PS-01'
    """
    whole = base.rstrip("/") + label.address
    is_bare = whole.count("/") == 4 and "%" not in whole
    return whole.upper() if is_bare else whole


def code_of(text: str) -> Code:
    """The code of a text, each row of dark squares drawn in one go."""
    made = segno.make(text, error="m", micro=False)
    drawn = []
    for y, row in enumerate(made.matrix, start=QUIET_MODULES):
        x = QUIET_MODULES
        for is_dark, run in groupby(row):
            length = len(list(run))
            if is_dark:
                drawn.append(f"M{x} {y}h{length}v1h-{length}z")
            x += length
    return Code("".join(drawn), len(made.matrix) + 2 * QUIET_MODULES)


def module_mm(labels: Sequence[Label], sheet: LabelSheet, base: str) -> float:
    """How large a square of the finest code is; below 0.35 mm phones have trouble."""
    return min((_side(sheet) / code_of(link(one, base)).squares for one in labels), default=0.0)


def _side(sheet: LabelSheet) -> float:
    return min(sheet.label_h - 1.0, LARGEST_CODE_MM, sheet.label_w * 0.46)


def _draw(label: Label, sheet: LabelSheet, n: int, base: str) -> Drawn:
    x, y = sheet.corner(n)
    side = _side(sheet)
    text_x = x + side + GAP_MM
    tag_size, size, words = _fitted(label, sheet)
    tags = _tag_lines(label.tag, sheet)
    height = len(tags) * tag_size * TAG_LEAD + len(words) * size * LEAD
    first = y + (sheet.label_h - height) / 2 + tag_size * 0.85
    tag = tuple(Line(text, first + k * tag_size * TAG_LEAD, tag_size) for k, text in enumerate(tags))
    foot = tag[-1].y + tag_size * (TAG_LEAD - 0.85) - size * 0.25
    lines = tuple(Line(text, foot + k * size * LEAD, size) for k, text in enumerate(words, start=1))
    code = code_of(link(label, base))
    top = y + (sheet.label_h - side) / 2
    return Drawn(x, top, side / code.squares, code, text_x, tag, lines, label)


def _fitted(label: Label, sheet: LabelSheet) -> tuple[float, float, list[str]]:
    """Height of the tag's type and of the lines', and the lines: as many as stand on the label whole in the
    largest type that does it, else as many as there is room for at all."""
    is_small = sheet.label_w < SMALL_MM
    room, high = _room_w(sheet), sheet.label_h - 2 * EDGE_MM
    tags = _tag_lines(label.tag, sheet)
    tag_size = min(3.6 if is_small else 5.0, room / (TAG_GLYPH * max(map(len, tags))))
    tag_lead = TAG_LEAD * len(tags)
    full = 2.3 if is_small else 3.2
    fitted = min(tag_size, high / tag_lead), full, list[str]()
    for count in range(1, 3 if is_small else 4):
        scale = min(1.0, high / (tag_size * tag_lead + count * full * LEAD))
        size = full * scale
        letters = int(room / (GLYPH * size))
        if min(size, tag_size * scale) < LEAST_TYPE_MM or letters < LEAST_LETTERS:
            break
        words, is_whole = _lines(label.line_1, "" if is_small else label.line_2, count, letters)
        fitted = tag_size * scale, size, words
        if is_whole:
            break
    return fitted


def _room_w(sheet: LabelSheet) -> float:
    return sheet.label_w - _side(sheet) - GAP_MM - PAD_MM


def _lines(first: str, second: str, count: int, letters: int) -> tuple[list[str], bool]:
    """Words broken into no more lines than there is room for, and whether that is all of them."""
    ours = min(2, count - 1 if second and count > 1 else count) if first else 0
    one, is_one_whole = _broken(first, ours, letters)
    two, is_two_whole = _broken(second, count - len(one), letters)
    return one + two, is_one_whole and is_two_whole


def _broken(text: str, most: int, letters: int) -> tuple[list[str], bool]:
    """
    >>> _broken("Rim of the revolve", 2, 8)
    (['Rim of', 'the rev…'], False)
    """
    lines = wrap(text, letters)
    if len(lines) <= most:
        return lines, True
    if most:
        lines[most - 1] = f"{' '.join(lines[most - 1 :])[: letters - 1].rstrip()}…"
    return lines[:most], False
