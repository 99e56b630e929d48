"""`wattwright kinds`: what the house keeps record of."""

import click

from service.cli.house import json_option
from service.cli.terminal.show import print_json, show, table
from service.cli.things.naming import kind_named, listing_of
from service.kinds.bodies import json_schema
from service.kinds.kind import Kind
from service.kinds.registry import KINDS


@click.command()
@click.argument("name", required=False)
@json_option
def command(name: str | None, as_json: bool) -> None:
    """List the kinds of things there are, or the fields of the one NAMED."""
    if name is None:
        rows = [(listing_of(k).plural, k.name, k.row_is, _must(k)) for k in KINDS if k.listing]
        heads = ["kind", "sheet", "one of them is", "must have"]
        if as_json:
            print_json([dict(zip(heads, row, strict=True)) for row in rows])
        else:
            show(table("", heads, rows))
        return
    kind = kind_named(name)
    fields = [
        {
            "field": c.api_name,
            "head": c.name,
            "what": c.doc,
            "unit": c.unit,
            "must": c.required,
            "once": c.is_fixed,
            "blank": c.default,
            "example": c.example,
            "takes": json_schema(c),
        }
        for c in kind.columns
    ]
    if as_json:
        print_json(fields)
    else:
        said = [
            [str(f[n]) if f[n] not in (False, True) else ("yes" if f[n] else "") for n in _SHOWN]
            for f in fields
        ]
        show(table("", list(_SHOWN), said))


_SHOWN = ("field", "head", "unit", "must", "once", "example", "blank", "what")


def _must(kind: Kind) -> str:
    return ", ".join(c.api_name for c in kind.columns if c.required)
