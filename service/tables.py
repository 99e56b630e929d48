"""Imports every record so that the metadata is whole."""

from service.planning import records as _planning
from service.planning.cutting import records as _cutting
from service.planning.since import records as _since
from service.planning.swapping import records as _swapping
from service.season import records as _season
from service.season.counting import records as _counting
from service.shows import faults as _faults
from service.shows import fittings as _fitted
from service.shows import records as _shows
from service.shows import upkeep as _upkeep
from service.stock import attachments as _attachments
from service.stock import fittings as _fittings
from service.stock import gear as _gear
from service.stock import people as _people
from service.stock import records as _stock
from service.store import audit as _audit
from service.store import keys as _keys
from service.store.base import Base

METADATA = Base.metadata
RECORDS = (
    *(_audit, _keys, _stock, _fittings, _people, _attachments, _gear),
    *(_season, _counting, _shows, _fitted, _faults, _upkeep, _planning, _since, _cutting, _swapping),
)
