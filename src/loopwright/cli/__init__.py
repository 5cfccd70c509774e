"""The command line: one module a command, loaded when it is called.

Owns the list of commands and the way out: exit code 0 clear, 1 something found at or above the asked severity, 2 bad
input or usage. A traceback is a defect.
"""

from __future__ import annotations

import importlib
import os
import sys
from typing import NoReturn

import click

from loopwright import __version__
from loopwright.cli import common
from loopwright.errors import LoopwrightError

COMMANDS: dict[str, tuple[str, str]] = {
    "open": ("loopwright.cli.open:open_sheet", "Open a sheet in the window."),
    "check": ("loopwright.cli.check:check", "Check sheets against every rule."),
    "figures": ("loopwright.cli.figures:figures", "Compute the figures of a sheet."),
    "conditions": ("loopwright.cli.conditions:conditions", "Try a power cut, stopped pumps and shut valves."),
    "run": ("loopwright.cli.run:run", "Play a power cut or a day on a sheet."),
    "rules": ("loopwright.cli.rules:rules", "List the rules, or explain one."),
    "kinds": ("loopwright.cli.kinds:kinds", "List kinds of part, or show one."),
    "order": ("loopwright.cli.order:order", "List the order of work for a sheet."),
    "report": ("loopwright.cli.report:report", "Write the report of a sheet, or of many."),
    "compare": ("loopwright.cli.compare:compare", "Hold a newer sheet against an older one."),
    "parts": ("loopwright.cli.parts_list:parts_list", "List what to buy for a sheet."),
    "picture": ("loopwright.cli.picture:picture", "Draw a sheet to a file."),
    "lessons": ("loopwright.cli.lessons:lessons", "List the lessons, or show one."),
    "mark": ("loopwright.cli.mark:mark", "Mark learners' answers to a lesson."),
    "practice": ("loopwright.cli.practice:practice", "Hide faults in a sound sheet, to be found."),
    "glossary": ("loopwright.cli.glossary:glossary", "Explain the words of the trade."),
    "desktop": ("loopwright.cli.desktop:desktop", "Put loopwright into the desktop's menu."),
    "new": ("loopwright.cli.new:new", "Start a sheet from a starter system."),
}
"""By name: where the command is, and its line in the help (so that the help loads nothing else)."""


class _Group(click.Group):
    """Loads a command when it is called, and opens a sheet when the first word is no command."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        module, _, attribute = COMMANDS[name][0].partition(":")
        command = getattr(importlib.import_module(module), attribute)
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            args = ["open", *args]
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context) -> object:
        """Run the command. What the system refuses (a name too long, a folder one may not look into) is said in words
        wherever it was asked."""
        try:
            return super().invoke(ctx)
        except BrokenPipeError:
            raise
        except OSError as bad:
            what = f"{os.fsdecode(bad.filename)} cannot be used" if bad.filename else "The system refused"
            where = bad.strerror or str(bad)
            raise LoopwrightError(what, where=where, do="Check the name, the rights and the room there") from None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, words) for name, (_, words) in COMMANDS.items()])


@click.group(cls=_Group, invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="loopwright")
@click.pass_context
def cli(ctx: click.Context) -> None:
    """Draw heat-store pipework as a section through the house and see what is unsafe or will not work.

    `loopwright FILE` opens a sheet; without a file, an empty one.
    """
    for stream in (sys.stdout, sys.stderr):  # a name that is no text must not end a command
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    if ctx.invoked_subcommand is None:
        from loopwright.cli.open import open_sheet

        ctx.invoke(open_sheet, file=None)


def main() -> NoReturn:
    """Entry point."""
    try:
        code = cli.main(standalone_mode=False)
        sys.exit(code if isinstance(code, int) else common.CLEAR)
    except LoopwrightError as bad:
        common.complain(bad)
        sys.exit(common.BAD)
    except click.exceptions.Abort:
        sys.exit(common.BAD)
    except click.ClickException as bad:
        bad.show()
        sys.exit(common.BAD)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(common.CLEAR)
