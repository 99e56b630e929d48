"""Why a run is dark: the limits of the kinds of gear, then of the units, in words and figures."""
