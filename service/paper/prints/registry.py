"""The papers there are, in the order in which they are offered."""

from service.paper.prints import addresses, checks, cuts, dark, feeds, leads, moved, packs
from service.paper.prints.table import Kind

PAPERS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        feeds.KIND,
        addresses.KIND,
        leads.KIND,
        cuts.KIND,
        checks.KIND,
        packs.KIND,
        dark.KIND,
        moved.KIND,
        moved.LABEL_KIND,
    )
}
