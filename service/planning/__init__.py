"""Where stock, season and shows meet: plans, allotments, feeds."""
