"""Imports every record so that the metadata is whole."""

from service.planning import records as _planning
from service.season import records as _season
from service.shows import records as _shows
from service.stock import gear as _gear
from service.stock import records as _stock
from service.store import audit as _audit
from service.store import keys as _keys
from service.store.base import Base

METADATA = Base.metadata
RECORDS = (_audit, _keys, _stock, _gear, _season, _shows, _planning)
