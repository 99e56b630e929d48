"""`wattwright report`: the reports, as tables, CSV or JSON."""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

import click
from pydantic import BaseModel
from rich.padding import Padding
from rich.text import Text

from service import units
from service.api.conventions.formats import model_sheet
from service.cli.house import (
    as_of_option,
    asking,
    database_option,
    json_option,
    opened,
    server_option,
    settings_for,
)
from service.cli.terminal.refusals import REFUSED
from service.cli.terminal.show import VERDICT_STYLE, length, print_json, show, table, verdict
from service.client import Wattwright
from service.config import Settings
from service.errors import BadRequest, NotFound
from service.limits.basis import NOMINAL
from service.limits.cautions import SCOPE
from service.paper.out.books import WORKBOOK, report_book
from service.reports import REPORTS, Report, ReportAsk

# What fits beside one another on a terminal; --csv and --json give every column.
SHORT: dict[str, tuple[str, ...]] = {
    "loads": (
        "production", "supply", "output", "output_w", "supply_w", "limit_w", "supply_pct", "load_a",
        "limit_a", "output_pct", "verdict", "binds", "outlet", "elements",
    ),
    "stock-use": ("kind", "item", "unit", "owned", "usable", "out", "wanted", "free", "short", "season_short",
                  "season_short_on", "least_on", "clears_on", "incoming", "longest_m", "wanted_by"),
    "season-line": ("kind", "item", "unit", "from_on", "to_on", "usable", "due_in", "wanted", "free", "short",
                    "wanted_by"),
    "shortages": ("kind", "item", "unit", "from_on", "clears_on", "short", "worst_on", "usable", "due_in",
                  "wanted_by", "back", "move"),
    "commitments": ("production", "kind", "item", "unit", "held", "used", "wanted", "from_on", "to_on",
                    "short", "tags"),
    "order-list": ("act", "item", "quantity", "sold_as", "order_by", "late_days", "needed_from", "wanted_by",
                   "spare", "cost", "late_orders", "one_lot", "instead", "unknown"),
    "addresses": ("production", "universe", "first_slot", "last_slot", "decoder", "port", "mode", "place",
                  "line", "line_loads", "refresh_hz", "multicast", "verdict", "elements"),
    "circuits": ("production", "outlet", "kind", "supplies_a", "other_w", "load_a", "limit_a", "load_pct",
                 "started", "inrush_a", "shared_with", "verdict", "supplies"),
    "cut-list": ("tape", "lot", "reel", "plan", "step", "cut_mm", "drawn_mm", "element", "piece", "label",
                 "mark_mm", "left_mm", "warning"),
    "take-list": ("production", "tag", "item", "count", "bin", "box", "goes_to", "used_for", "from_on",
                  "due_on", "issued_on", "state", "waits_for"),
    "stocktake": ("stocktake", "place", "tag", "item", "book_place", "book_state", "book_m", "found_m",
                  "outcome", "differences", "counted_by", "note"),
    "return-list": ("production", "tag", "item", "last_seen", "due_on", "returned_on", "state", "standing",
                    "days_late", "hurts", "hurts_from", "hurts_w"),
    "spares": ("production", "kind", "item", "unit", "in_show", "needed", "free", "short", "verdict",
               "is_due", "take", "where", "mend"),
    "usage": ("month", "tape", "production", "pieces", "used_m", "scrapped_m", "recovered_m",
              "tape_scrap_pct"),
    "wire": ("gauge", "cores", "leads", "wire_m", "to_make_m", "unmeasured", "on_hand_m", "short_m"),
}  # fmt: skip
LIMITS = "over-limit"
_FILE = click.Path(path_type=Path, dir_okay=False)


@click.command()
@click.argument("name", required=False)
@click.option("--production", metavar="CODE", help="One show only.")
@click.option("--all", "everything", is_flag=True, help="Also what is in order, and shows that are over.")
@click.option("--from", "from_on", metavar="DAY", help="First day, of a report that takes a span.")
@click.option("--to", "to_on", metavar="DAY", help="Last day, which counts too.")
@click.option("--csv", "as_csv", is_flag=True, help="Comma-separated values, every column.")
@click.option("--xlsx", "book", type=_FILE, metavar="FILE", help="A workbook, every column, into FILE.")
@as_of_option
@database_option
@server_option
@json_option
def command(name: str | None, as_of: str | None, database: str | None, as_json: bool, **how: Any) -> int:
    """Print the report NAMED; without a name, list the reports.

    "over-limit" ends with 1 when anything is over a limit; the others end with 0.
    """
    if as_json + how["as_csv"] + (how["book"] is not None) > 1:
        raise click.UsageError("Give only one of --csv, --json and --xlsx.")
    settings = settings_for(database, as_of, server=how["server"])
    if name is None:
        show(table("Reports", ["name", "what"], _titles(settings).items()))
        return 0
    known_on = settings_for(database).as_of()
    span = a_day(how["from_on"], "--from"), a_day(how["to_on"], "--to")
    ask = ReportAsk(settings.as_of(), how["production"], how["everything"], known_on, *span)
    if how["book"] is not None:
        return _write_book(settings, name, ask, how["book"])
    if how["as_csv"]:
        text = _far_csv(settings, name, ask) if settings.server else _csv(settings, name, ask)
        click.echo(text, nl=False)
        rows: list[dict[str, Any]] = list(csv.DictReader(io.StringIO(text)))
    else:
        found = _far(settings, name, ask) if settings.server else _here(settings, name, ask)
        print_json(found) if as_json else print_report(found, settings.units.value.lower())
        rows = found["rows"]
    is_over = name == LIMITS and any(row["verdict"] == "over" for row in rows)
    return REFUSED if is_over else 0


def _titles(settings: Settings) -> dict[str, str]:
    if settings.server is None:
        return {report.name: report.title for report in REPORTS.values()}
    with asking(settings) as house:
        return {report["name"]: report["title"] for report in house.ask("GET", "/reports").json()}


def _here(settings: Settings, name: str, ask: ReportAsk) -> dict[str, Any]:
    report = _spanning(find(name), ask)
    with opened(settings) as store, store.reading() as session:
        rows = report.rows(session, ask)
        return document(report, ask, rows, report.summary(session, ask, rows))


def _csv(settings: Settings, name: str, ask: ReportAsk) -> str:
    """The very sheet that the API answers with."""
    report = _spanning(find(name), ask)
    with opened(settings) as store, store.reading() as session:
        return bytes(model_sheet(report.row, report.rows(session, ask), {}).body).decode()


def _write_book(settings: Settings, name: str, ask: ReportAsk, path: Path) -> int:
    """The very workbook that the API answers with. Ends with 1 where the report itself would."""
    if settings.server is not None:
        with _known_there(settings, name) as house:
            wanted = {"Accept": WORKBOOK}
            content = house.ask(
                "GET", f"/reports/{name}", params=_asked(settings, ask), headers=wanted
            ).content
            is_over = name == LIMITS and any(
                row["verdict"] == "over" for row in _far(settings, name, ask)["rows"]
            )
    else:
        report = _spanning(find(name), ask)
        with opened(settings) as store, store.reading() as session:
            rows = report.rows(session, ask)
            content = report_book(report, ask, rows, report.summary(session, ask, rows))
        is_over = name == LIMITS and any(getattr(row, "verdict", "") == "over" for row in rows)
    path.write_bytes(content)
    click.echo(f"Written to {path}")
    return REFUSED if is_over else 0


def _far(settings: Settings, name: str, ask: ReportAsk) -> dict[str, Any]:
    with _known_there(settings, name) as house:
        said = house.ask("GET", f"/reports/{name}", params=_asked(settings, ask)).json()
    heads = ("title", "as_of", "production", "summary", "rows", "cautions")
    return {"report": name, **{head: said[head] for head in heads}}


def _far_csv(settings: Settings, name: str, ask: ReportAsk) -> str:
    with _known_there(settings, name) as house:
        return house.report_csv(name, **_asked(settings, ask))


def _asked(settings: Settings, ask: ReportAsk) -> dict[str, Any]:
    """As the API is asked. Without a day of ours it is the service's own day."""
    return {
        "as_of": settings.today,
        "production": ask.production,
        "everything": ask.everything or None,
        "from": ask.from_on and ask.from_on.isoformat(),
        "to": ask.to_on and ask.to_on.isoformat(),
    }


@contextmanager
def _known_there(settings: Settings, name: str) -> Iterator[Wattwright]:
    with asking(settings) as house:
        try:
            yield house
        except NotFound:
            titles = _titles(settings)
            if name in titles:
                raise
            raise _no_report(name, titles) from None


def a_day(said: str | None, option: str) -> date | None:
    """A day given with an option."""
    if said is None:
        return None
    try:
        return date.fromisoformat(said)
    except ValueError:
        raise click.UsageError(f"{option} takes a day as YYYY-MM-DD, not {said!r}.") from None


def _spanning(report: Report, ask: ReportAsk) -> Report:
    """Refuses a span where the report would not heed it."""
    if not report.spans and (ask.from_on or ask.to_on):
        raise BadRequest(f"{report.name} is a report of one day", "Leave --from and --to out; use --as-of.")
    return report


def find(name: str) -> Report:
    if name not in REPORTS:
        raise _no_report(name, REPORTS)
    return REPORTS[name]


def _no_report(name: str, known: Iterable[str]) -> BadRequest:
    return BadRequest(f"there is no report {name!r}", f"The reports are {', '.join(known)}.")


def document(
    report: Report, ask: ReportAsk, rows: Sequence[BaseModel], summary: dict[str, object]
) -> dict[str, Any]:
    return {
        "report": report.name,
        "title": report.title,
        "as_of": ask.as_of,
        "production": ask.production,
        "summary": summary,
        "rows": [row.model_dump(mode="json") for row in rows],
        "cautions": report.cautions,
    }


def print_report(found: dict[str, Any], system: str) -> None:
    """A report as `document` has it."""
    whose = f", {found['production']}" if found["production"] else ""
    title = f"{found['title']}, as of {found['as_of']}{whose}"
    if found["report"] == LIMITS:
        show(Text(title, style="bold"))
        print_findings(found["rows"])
    else:
        print_rows(found["report"], title, found["rows"], system)
        print_measured(row.get("load_basis") for row in found["rows"])
    print_summary(found["summary"])
    print_cautions(found["cautions"])


def print_measured(bases: Iterable[str | None]) -> None:
    """Which loads rest on what was measured; the others are the makers' figures."""
    for basis in dict.fromkeys(bases):
        if basis and basis != NOMINAL:
            click.echo(f"loads: {basis}")


def print_cautions(cautions: Sequence[str]) -> None:
    """Each once, and what holds for every figure last."""
    for caution in dict.fromkeys([*(c.removesuffix(SCOPE).strip() for c in cautions), SCOPE]):
        if caution:
            click.secho(caution, dim=True)


def print_summary(summary: dict[str, object]) -> None:
    click.echo(", ".join(f"{name.replace('_', ' ')}: {value}" for name, value in summary.items()))


def print_rows(name: str, title: str, rows: Sequence[dict[str, Any]], system: str = units.METRIC) -> None:
    names = SHORT.get(name) or tuple(rows[0] if rows else ())
    right = [n for n, name in enumerate(names) if any(isinstance(row[name], float) for row in rows)]
    cells = [[_value(name, row, system) for name in names] for row in rows]
    show(table(title, [_head(name, system) for name in names], cells, right))


def _value(name: str, row: dict[str, Any], system: str) -> Any:
    value = row[name]
    if system == units.US:
        if name == "unit" and value == "m":
            return "ft"
        if isinstance(value, float) and (name.endswith("_m") or row.get("unit") == "m"):
            return length(value, system).removesuffix(" ft")
    if name == "verdict":
        return verdict(value)
    if isinstance(value, float) and (name.endswith("_pct") or row.get("unit") == "piece"):
        return f"{value:.1f}" if name.endswith("_pct") else f"{value:.0f}"
    return value


def print_findings(rows: Sequence[dict[str, Any]]) -> None:
    """Worst first: what is over, by how much, and what mends it."""
    shown: list[Any] = []
    for row in rows:
        head = Text()
        head.append(f"{row['verdict']:8}", style=VERDICT_STYLE.get(row["verdict"], ""))
        head.append(f"{row['production']} · {row['subject']} · {row['harm']}")
        shown.append(head)
        shown.append(Padding(Text(row["message"]), (0, 0, 0, 8)))
        if row.get("load_basis", "") not in ("", NOMINAL):
            shown.append(Padding(Text(f"loads: {row['load_basis']}", style="dim"), (0, 0, 0, 8)))
        if row["mend"]:
            shown.append(Padding(Text(f"mend: {row['mend']}", style="green"), (0, 0, 0, 8)))
        # What holds for every figure is said once, below the list.
        if caution := row["caution"].removesuffix(SCOPE).strip():
            shown.append(Padding(Text(caution, style="dim"), (0, 0, 0, 8)))
    if shown:
        show(*shown)
    else:
        click.echo("nothing")


def _head(name: str, system: str = units.METRIC) -> str:
    """A column's name as people read it, with its unit.

    >>> _head("supply_pct"), _head("limit_w"), _head("wanted_by")
    ('supply %', 'limit W', 'wanted by')
    """
    signs = {"w": "W", "a": "A", "v": "V", "m": "ft" if system == units.US else "m", "pct": "%"}
    stem, _, last = name.rpartition("_")
    return f"{stem.replace('_', ' ')} {signs[last]}" if stem and last in signs else name.replace("_", " ")
