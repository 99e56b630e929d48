"""House defaults: every threshold a limit uses, each with its source, each overridable.

A stored policy row replaces the default of the same name.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Policy:
    """Ratios are 0 to 1. Sources: common practice unless the line says otherwise."""

    load_factor: float = (
        0.80  # continuous load; NFPA 70 Art. 210.19(A)(1) uses the same idea for branch circuits
    )
    output_factor: float = 0.80
    channel_factor: float = 0.80
    decoder_factor: float = 0.80
    open_air_degc: float = 25.0
    lead_watch: float = 0.03  # advisory 3 % of NFPA 70 210.19(A) Informational Note 4
    drop_watch: float = 0.05  # advisory 5 % of NFPA 70 215.2 Informational Note 2
    drop_over: float = 0.10
    both_ends_run_factor: float = 2.0
    match_drop_spread: float = 0.03
    keep_offcut_m: float = 0.300
    join_min_piece_m: float = 0.300
    conductor_degc: float = 20.0


DEFAULT = Policy()
