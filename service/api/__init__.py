"""The HTTP interface, one router a room."""
