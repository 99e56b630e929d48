"""One file a report: its title, its row, and `rows(session, ask)`. Doors read REPORTS and nothing else."""

from service.reports import addresses, circuits, loads, over_limit, stock_use, wire
from service.reports.report import Report, ReportAsk
from service.reports.season import (
    commitments,
    cut_list,
    order_list,
    return_list,
    season_line,
    shortages,
    spares,
    stock_by_place,
    stocktake,
    take_list,
    usage,
)

REPORTS: dict[str, Report] = {
    report.name: report
    for report in (
        loads.REPORT,
        over_limit.REPORT,
        stock_use.REPORT,
        stock_by_place.REPORT,
        addresses.REPORT,
        wire.REPORT,
        circuits.REPORT,
        cut_list.REPORT,
        take_list.REPORT,
        return_list.REPORT,
        stocktake.REPORT,
        spares.REPORT,
        season_line.REPORT,
        shortages.REPORT,
        commitments.REPORT,
        order_list.REPORT,
        usage.REPORT,
    )
}

__all__ = ["REPORTS", "Report", "ReportAsk"]
