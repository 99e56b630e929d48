"""When and for whom: productions, holds, orders, returns."""
