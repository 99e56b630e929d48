"""Every kind of thing the house keeps: what may be written of it, and how it is stored, read and retired."""
