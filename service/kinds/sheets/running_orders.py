"""The sheet of running orders: what an element does, stretch by stretch, for its battery."""

from service.kinds.columns import quantity, tag, text, whole
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known
from service.shows import queries
from service.shows.records import Cue


def load_cues(rows: list[Row], ctx: Context, known: Known) -> None:
    kept = []
    for row in rows:
        element, step = ctx.find(known.elements, row, "element"), row.whole("step") or 0
        claimed = ctx.claim_name(known.cues, row, "step")
        if element is None or not claimed:
            continue
        kept.append(
            {
                "id": row.thing_id,
                "element_id": element.id,
                "number": step,
                "name": row.text("name"),
                "minutes": row.real("minutes"),
                "level_pct": row.real("level"),
            }
        )
    ctx.put(Cue, kept)


CUES = Kind(
    "running orders",
    "one stretch of an element's running order",
    (
        tag("Element", "The element", required=True, example="SQ-23", is_fixed=True),
        whole("Step", "Its place in the order", 1, 10_000, required=True, example="1", also=("seq",),
              field="number"),
        text("Name", "What it is", 80, example="act one", also=("segment",)),
        quantity("Minutes", "min", "How long it lasts", 0.01, 1_440, required=True, example="20",
                 also=("time",)),
        quantity("Level", "%", "Level", 0, 100, required=True, example="100",
               also=("level %", "level pct"), field="level_pct"),
    ),
    load_cues,
    "cue",
    ("element", "step"),
    ("cues", "running order", "battery profile"),
    listing=queries.CUES,
    record=Cue,
)  # fmt: skip
