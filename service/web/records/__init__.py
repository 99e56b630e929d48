"""Adding and changing anything the house keeps: one form a kind, made from the registry."""
