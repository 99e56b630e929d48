"""The papers there are, in the order in which they are offered."""

from service.paper.prints import moved
from service.paper.prints.deck import checks, dark
from service.paper.prints.feeding import addresses, feeds, leads, packs
from service.paper.prints.season import counting, cuts, ordering, returning, taking
from service.paper.prints.table import Kind

PAPERS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        feeds.KIND,
        addresses.KIND,
        leads.KIND,
        cuts.KIND,
        taking.KIND,
        checks.KIND,
        packs.KIND,
        dark.KIND,
        returning.KIND,
        ordering.KIND,
        counting.KIND,
        moved.KIND,
        moved.LABEL_KIND,
    )
}
