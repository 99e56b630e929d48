"""How the commands meet a terminal: loading, refusing, printing."""
