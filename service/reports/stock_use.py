"""What is owned, sound, out, wanted and free on one day, or on the worst day of a span, by model and tape."""

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date

from pydantic import BaseModel, Field
from sqlalchemy.orm import Session

from service.planning.season.asking import Days, days_of, find_code, in_order, within
from service.planning.season.items import Item, Season
from service.planning.season.reading import read_season
from service.reports.report import Report, ReportAsk, counted
from service.season.lines import Step, least_free, shortages

_Out = Mapping[str, Sequence[tuple[str, date, date]]]  # who has which unit, by model


class Row(BaseModel):
    """One model (pieces) or one tape (metres) on one day: the day asked for, or that of a span with the least
    to spare."""

    kind: str = Field(description="supply, decoder, battery or tape")
    item: str = Field(description="tag of the model or tape")
    unit: str = Field(description="piece or m")
    owned: float = Field(description="in the house and not hired, in `unit`")
    usable: float = Field(description="sound and not overdue; tape: on reels and offcuts")
    out: float = Field(description="with a production that day, overdue ones included; tape: 0")
    wanted: float = Field(
        description="per production the larger of held and allotted; tape: the larger of held and uncut, "
        "on one day all that shows still want, later days too; of a span what is wanted by then"
    )
    free: float = Field(
        description="neither out nor wanted, in `unit`; of tape on one day, what is left once all that "
        "shows still want is taken off, later days too"
    )
    short: float = Field(
        description="wanted beyond what there is; of gear or a span, beyond what is due by then too; of tape "
        "on one day, beyond all that shows still want, later days too, whatever is due: see `season_short`"
    )
    season_short: float = Field(
        default=0.0,
        description="the most it is short of on any day from then on, what is due by that day counted",
        examples=[26.2],
    )
    season_short_on: date | None = Field(
        default=None, description="the first such day; null: it never is short", examples=["2027-01-04"]
    )
    least_on: date = Field(
        description="the day of these figures: of a span, the first with the least to spare"
    )
    clears_on: date | None = Field(description="first day it is short no more; null: it is not, or always is")
    incoming: float = Field(description="ordered, not yet received")
    longest_m: float | None = Field(default=None, description="tape: longest single length, in m")
    wanted_by: list[str] = Field(default=[], description="codes of the shows that want it")


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    """Of one production: of what it has any part in. Raises NotFound."""
    spans = ask.from_on is not None or ask.to_on is not None
    days = days_of(*ask.span, ask.as_of)
    season = read_season(session, ask.as_of, ask.known_on)
    code = None if ask.production is None else find_code(season, ask.production)
    out = _out(season)
    longest: Counter[str] = Counter()
    for item in season.items.values():
        if item.kind == "reel":
            longest[item.tape] = max(longest[item.tape], sum(stock.owned for stock in item.stocks))
    found = []
    for item in in_order(season):
        if code is not None and not any(need.who == code for need in item.needs):
            continue
        if item.is_lent:
            found.append(_row(season, item, days, out))
        elif item.kind == "tape":
            line = item.line(days[0])
            row = _row(season, item, days, out) if spans else _row_of(season, item, line, for_good(line), out)
            found.append(row.model_copy(update={"longest_m": item.figure(longest[item.tag])}))
    return found


def for_good(line: Sequence[Step]) -> Step:
    """Tape on one day: what is promised for days to come is not free now, for it does not come back."""
    return line[0]._replace(due=0, wanted=line[-1].wanted, wanted_by=line[-1].wanted_by)


def _out(season: Season) -> _Out:
    found: dict[str, list[tuple[str, date, date]]] = {}
    for one in season.named:
        found.setdefault(one.item, []).append((one.tag, one.from_on, one.until_on))
    return found


def _row(season: Season, item: Item, days: Days, out: _Out) -> Row:
    line = item.line(days[0])
    return _row_of(season, item, line, least_free(within(line, days[1])), out)


def _row_of(season: Season, item: Item, line: Sequence[Step], step: Step, out: _Out) -> Row:
    on, worst = step.from_on, least_free(line)
    late = sum(one.quantity for one in season.late if one.item == item.tag)
    return Row(
        kind=item.kind,
        item=item.tag,
        unit=item.unit,
        owned=item.figure(step.owned),
        usable=item.figure(step.usable),
        out=len({tag for tag, first, last in out.get(item.tag, ()) if first <= on < last}),
        wanted=item.figure(step.wanted),
        free=item.figure(step.free),
        short=item.figure(step.short),
        season_short=item.figure(worst.short),
        season_short_on=worst.from_on if worst.short else None,
        least_on=on,
        clears_on=_clears(line, step),
        incoming=item.figure(sum(stock.due for stock in item.stocks) + late),
        wanted_by=sorted(who for who, _ in step.wanted_by),
    )


def _clears(line: Sequence[Step], step: Step) -> date | None:
    """When the shortage that the step is a part of is over."""
    for short in shortages(line):
        if step.short and short.from_on <= step.from_on < (short.clears_on or date.max):
            return short.clears_on
    return None


REPORT = Report(
    "stock-use",
    "Stock on one day, or at its least in a span",
    Row,
    rows,
    counted,
    cautions=(
        "Of gear, wanted, free and short are those of the day. Of tape on one day they count all that shows "
        "still want, later days too, for it does not come back; of a span, what is wanted by then.",
    ),
    spans=True,
)
