"""What every paper is: columns, rows in blocks, and what is to be said first."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any

from sqlalchemy.orm import Session

from service.limits.findings import Finding, Verdict

OVER, TIGHT, NONE, FINE = "over", "tight", "none", ""


@dataclass(frozen=True, slots=True)
class Column:
    """`unit`: the house unit of its figures; `is_figure`: of several. `is_tag`: it leads to the thing.
    `is_box`: an empty box to tick, `is_write`: one to write in. `is_wide`: prose, which may take what room is
    left. `is_filed`: for spreadsheets alone."""

    key: str
    unit: str = ""
    is_tag: bool = False
    is_box: bool = False
    is_wide: bool = False
    is_figure: bool = False
    is_filed: bool = False
    is_write: bool = False

    @property
    def is_by_hand(self) -> bool:
        """Filled in on paper; not in spreadsheets."""
        return self.is_box or self.is_write


@dataclass(frozen=True, slots=True)
class Measured:
    """A figure whose unit is not that of its column, or that has none; in a spreadsheet the figure alone."""

    value: float
    unit: str = ""
    digits: int | None = None


@dataclass(frozen=True, slots=True)
class Says:
    """Words by their key in the catalogue, with what is filled in."""

    key: str
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Row:
    """`cells` by column; a missing one is blank. `state`, `says` and `mend`: what is wrong with it, if
    anything is, and what would put it right. `tells`: what is to be said below it in any state."""

    cells: Mapping[str, Any]
    state: str = FINE
    says: str = ""
    mend: str = ""
    tells: tuple[Says, ...] = ()

    @property
    def is_told(self) -> bool:
        """Whether words stand below it."""
        return bool(self.tells) or (self.state in (OVER, TIGHT) and bool(self.says))


@dataclass(frozen=True, slots=True)
class Block:
    """Rows under one head. `tag`: of the thing they hang on; `title`: in words; `facts`: what all of its rows
    share, which a spreadsheet repeats in each; `notes`: what stands at the right of the head."""

    tag: str
    title: str | Says
    rows: Sequence[Row]
    facts: Mapping[str, Any] = field(default_factory=dict)
    notes: Sequence[Says] = ()
    state: str = FINE
    says: Says | None = None
    mend: str = ""


@dataclass(frozen=True, slots=True)
class Paper:
    """`name`: in its address. `first`: what it finds, its headline. `shared`: columns of the blocks."""

    name: str
    first: Says
    columns: Sequence[Column]
    blocks: Sequence[Block]
    shared: Sequence[Column] = ()
    cautions: Sequence[str] = ()
    is_wide: bool = False

    @property
    def rows(self) -> int:
        return sum(len(block.rows) for block in self.blocks)

    def flat(self) -> tuple[list[Column], list[list[Any]]]:
        """Columns and rows as a spreadsheet has them: what a block says of itself stands in each row."""
        columns = [*self.shared, *(column for column in self.columns if not column.is_by_hand)]
        rows = [
            [{**block.facts, **row.cells}.get(column.key) for column in columns]
            for block in self.blocks
            for row in block.rows
        ]
        return columns, rows


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a paper is asked for: a day, a show by its code (None: the whole house), and since when (a day,
    plan:N or print:N). `end_of`: the instant a day ends at, or None where that is still to come."""

    day: date
    today: date
    end_of: Callable[[date], datetime | None]
    show: str | None = None
    since: str | None = None


@dataclass(frozen=True, slots=True)
class Unsolved:
    """A paper that waits for a solver. `job`, given `given`, is done with no transaction open; `told` makes
    the paper of what it answers."""

    job: Callable[..., Any]
    given: tuple[object, ...]
    told: Callable[[Any], Paper]

    def solved_by(self, solver: Callable[..., Any]) -> Paper:
        """`solver`: does a job with what it is given, and hands back what it answers."""
        return self.told(solver(self.job, *self.given))


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of paper. `of_house`: it can be made of the whole house too; `of_show`: of one show.
    `is_followed`: what moved since a print tells of all that stands on it."""

    name: str
    make: Callable[[Session, Wanted], Paper | Unsolved]
    of_house: bool = False
    of_show: bool = True
    is_followed: bool = False


def told(cells: Mapping[str, Any], finding: Finding | None) -> Row:
    """A row with what the limits say of it; what is in order needs no words."""
    state = FINE if finding is None else state_of(finding.verdict)
    if finding is None or not state:
        return Row(cells)
    return Row(cells, state, finding.message, finding.mend.text if finding.mend else "")


def told_once(rows: Sequence[Row]) -> list[Row]:
    """What is wrong with several rows in the same way is said of the first of them."""
    said: set[str] = set()
    found = []
    for row in rows:
        found.append(replace(row, says="", mend="") if row.says in said else row)
        said.add(row.says)
    return found


def state_of(verdict: Verdict) -> str:
    return {Verdict.OVER: OVER, Verdict.WATCH: TIGHT, Verdict.UNKNOWN: NONE}.get(verdict, FINE)


def span(first: int | None, count: int) -> str:
    """
    >>> span(3, 1), span(1, 4), span(None, 0)
    ('3', '1–4', '')
    """
    if first is None:
        return ""
    return str(first) if count < 2 else f"{first}–{first + count - 1}"


def numbers(of: Sequence[int]) -> str:
    """
    >>> numbers([1]), numbers([1, 2, 3]), numbers([1, 3])
    ('1', '1–3', '1, 3')
    """
    if len(of) > 1 and of[-1] - of[0] == len(of) - 1:
        return f"{of[0]}–{of[-1]}"
    return ", ".join(map(str, of))
