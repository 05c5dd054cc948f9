"""The `loomwright` command: finds the command asked for, and turns errors into exit codes.

Exit codes: 0 done, 1 a finding (a failed check), 2 bad input, 3 our own bug, 130 stopped by Ctrl-C.
"""

from __future__ import annotations

import importlib
import io
import os
import sys
import traceback
from collections.abc import Sequence
from typing import Any, cast

import click

from loomwright.cli import failures
from loomwright.errors import LoomwrightError, nearest

__all__ = ["COMMANDS", "commands", "main"]

# The order of the job; a command's module is only imported when it is asked for.
COMMANDS = (
    "check", "expect", "faults", "suspects", "trace", "estimate", "learn", "why", "draw",
    "template", "exchange", "demo", "practice", "serve", "people", "token", "settings", "job",
    "backup", "restore", "schema",
)
BUG, STOPPED = 3, 130


class _PipeClosedError(Exception):
    """The reader of our output has gone; click would end the process with 1, a finding."""


class LazyGroup(click.Group):
    """A group whose commands are modules of `loomwright.cli`, imported when first used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of the commands, in the order of the job."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the command of this name, or None."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"loomwright.cli.{cmd_name}")
        return cast(click.Command, module.command)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command; an unknown one is answered with the nearest known name."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            close = nearest(args[0], COMMANDS)
            step = f"Did you mean '{close}'?" if close else "See 'loomwright --help'."
            raise click.UsageError(f"There is no command '{args[0]}'. {step}", ctx)
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; a pipe closed by its reader is kept apart from other failures."""
        try:
            return super().invoke(ctx)
        except BrokenPipeError as error:
            raise _PipeClosedError from error


def _print_version(ctx: click.Context, _option: click.Parameter, wanted: bool) -> None:
    """Print the installed version and stop."""
    if not wanted or ctx.resilient_parsing:
        return
    from importlib.metadata import PackageNotFoundError, version

    try:
        click.echo(f"loomwright {version('loomwright')}")
    except PackageNotFoundError:
        click.echo("loomwright (run from its source folder, not installed)")
    ctx.exit(0)


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--version", is_flag=True, is_eager=True, expose_value=False, callback=_print_version,
    help="Show the version and stop.",
)
@click.option("--debug", is_flag=True, expose_value=False, help="Show the traceback of an error.")
def commands() -> None:
    """Fault-finding bench book for vehicle electrical technicians.

    Describe a circuit in a small file; Loomwright says what every point should read, which faults
    explain the readings taken, what to measure next, and when a repair is proved.
    """


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Parameters
        arguments: the words after `loomwright`; those of the process where None
    Returns
        int: 0 done, 1 finding, 2 bad input, 3 our own bug, 130 stopped by Ctrl-C
    """
    words = list(sys.argv[1:] if arguments is None else arguments)
    as_json, debug = "--json" in words, "--debug" in words
    # Our matrices are small: starting threads for them costs a tenth of a quick command's time.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        # A terminal that cannot show a letter shows '?' for it; that is no reason to fail.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        return _run(words)
    except (LoomwrightError, click.ClickException) as error:
        _show_traceback(debug)
        failures.report(error, as_json=as_json)
        return failures.BAD_INPUT
    except (KeyboardInterrupt, click.Abort):
        click.echo("Stopped.", err=True)
        return STOPPED
    except Exception as error:  # noqa: BLE001
        # The last place before the user: whatever comes here is a bug of ours and is named so.
        _show_traceback(debug)
        failures.report_bug(error, as_json=as_json)
        return BUG


def _run(words: list[str]) -> int:
    """Run the command; a reader that closes the pipe early (`| head`) is no error."""
    try:
        code = commands.main(args=words, prog_name="loomwright", standalone_mode=False)
        sys.stdout.flush()
    except (BrokenPipeError, _PipeClosedError):
        _forget_output()
        return 0
    except click.exceptions.Exit as stopped:
        return stopped.exit_code
    except click.exceptions.NoArgsIsHelpError as asked:
        click.echo(asked.ctx.get_help() if asked.ctx else "")
        return failures.BAD_INPUT
    return code if isinstance(code, int) else 0


def _forget_output() -> None:
    """Send what is still buffered nowhere, so that the interpreter does not complain at its end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)


def _show_traceback(debug: bool) -> None:
    """Print the traceback of the error being handled, where it was asked for."""
    if debug:
        traceback.print_exc(file=sys.stderr)
