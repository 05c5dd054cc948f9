"""`loomwright template`: list template circuits, and make a circuit file from one."""

from __future__ import annotations

import click

from loomwright.cli import show
from loomwright.cli.options import json_option, output_option
from loomwright.errors import UsageError

__all__ = ["command"]


@click.command("template", short_help="Make a circuit file from a template.")
@click.argument("name", required=False)
@click.option("--set", "settings", multiple=True, metavar="KEY=VALUE",
              help="Set a value of the template, such as system=24V or fuse=10A. Repeatable.")
@output_option
@click.option("--about", is_flag=True, help="Show what the template is and what can be set.")
@json_option
def command(name: str | None, settings: tuple[str, ...], output: str | None, force: bool,
            about: bool, as_json: bool) -> None:
    """List the template circuits; with NAME print a circuit file made from that one.

    Exit code 1 when, with the values given, a fuse blows or a state does not do what it should.
    """
    if name is None:
        _list(as_json)
        return
    if about:
        _about(name, as_json)
        return
    from loomwright.service import templates

    filled = templates.fill_template(name, dict(_pair(text) for text in settings))
    if output is not None:
        from loomwright.service.text_files import write_text

        write_text(output, filled.text, force=force)
    if as_json:
        show.emit_json({"template": name, "file": output, "notes": list(filled.notes),
                        "text": filled.text if output is None else None})
    elif output is None:
        click.echo(filled.text, nl=False)
    else:
        show.line(f"Wrote {output}.")
    for note in () if as_json else filled.notes:
        click.echo(f"note: {note}", err=True)
    if filled.notes:
        raise click.exceptions.Exit(1)


def _pair(text: str) -> tuple[str, str]:
    """Return key and value of KEY=VALUE."""
    key, equals, value = text.partition("=")
    if not equals or not key.strip():
        raise UsageError(f"'{text}' is not KEY=VALUE.", next_step="Write it like fuse=10A.")
    return key.strip(), value.strip()


def _list(as_json: bool) -> None:
    """Show all templates."""
    from loomwright.service import templates

    found = templates.list_templates()
    if as_json:
        show.emit_json([{"name": one.name, "title": one.title, "group": one.group,
                         "systems": list(one.systems)} for one in found])
        return
    group = ""
    for one in found:
        if one.group != group:
            group = one.group
            show.heading(group)
        show.line(f"  {one.name:24} {one.title} ({', '.join(one.systems)})")


def _about(name: str, as_json: bool) -> None:
    """Show one template's parameters."""
    from loomwright.service import templates

    one = templates.one_template(name)
    if as_json:
        show.emit_json({
            "name": one.name, "title": one.title, "about": one.about, "caution": one.caution,
            "systems": list(one.systems),
            "parameters": [{"name": row.name, "unit": row.unit, "meaning": row.meaning,
                            "defaults": dict(row.defaults)} for row in one.parameters.values()]})
        return
    show.line(f"{one.title}. {one.about}")
    if one.caution:
        show.line(f"Caution: {one.caution}")
    show.line(f"  system: one of {', '.join(one.systems)}")
    for row in one.parameters.values():
        usual = ", ".join(dict.fromkeys(row.defaults.values()))
        show.line(f"  {row.name}: {row.meaning} (assumed {usual})")
