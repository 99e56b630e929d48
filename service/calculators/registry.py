"""Every calculator, by name."""

from service.calculators import batteries, boxes, drop, lines, longest, mains, markings, wires
from service.calculators.form import Calculator

CALCULATORS: tuple[Calculator, ...] = (
    Calculator("drop", "What is lost along this run of tape?", drop.DropAsk, drop.work),
    Calculator("longest-run", "How long may a run be?", longest.LongestAsk, longest.work),
    Calculator("gauge", "What wire does this lead want?", wires.GaugeAsk, wires.work_gauge),
    Calculator("fuse", "What fuse does this lead want?", wires.FuseAsk, wires.work_fuse),
    Calculator("battery", "How long does it run on this pack?", batteries.BatteryAsk, batteries.work),
    Calculator("mains", "What does it take from the wall?", mains.MainsAsk, mains.work),
    Calculator("box", "How warm does it get in this box?", boxes.BoxAsk, boxes.work),
    Calculator("marking", "What does a marking on a supply allow?", markings.MarkingAsk, markings.work),
    Calculator("line", "What does a control line carry?", lines.LineAsk, lines.work),
)
