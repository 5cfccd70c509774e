"""Every command says what it does, what each choice is for, and shows a line that can be typed as it stands."""

from __future__ import annotations

import re
import shlex

import click
import pytest
from click.testing import CliRunner

from loopwright.cli import COMMANDS, cli


def command(name: str) -> click.Command:
    """A command as it is loaded when it is called."""
    found = cli.get_command(click.Context(cli), name)
    assert found is not None
    return found


def help_of(name: str) -> str:
    """What `loopwright NAME --help` prints."""
    result = CliRunner().invoke(cli, [name, "--help"], terminal_width=100)
    assert result.exit_code == 0
    return result.output


def examples(name: str) -> list[list[str]]:
    """The words of each example in a command's help, without the program's name."""
    said = re.sub(r"\n\s*Examples?:\s*", "\nExample: ", help_of(name))
    told = said.partition("Example: ")[2].partition("\nOptions:")[0]
    lines = [line.strip() for line in told.splitlines() if line.strip()]
    return [shlex.split(line)[1:] for line in lines if line.startswith("loopwright ")]


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_says_what_it_does(name: str) -> None:
    assert COMMANDS[name][1].endswith(".") and len(COMMANDS[name][1]) < 60
    first = (command(name).help or "").strip().split("\n\n")[0]
    assert first[:1].isupper() and first.rstrip().endswith(".")


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_shows_an_example_that_it_understands(name: str) -> None:
    found = examples(name)
    assert found, f"loopwright {name} --help shows no example"
    for words in found:
        assert words[0] == name
        command(name).make_context(name, words[1:])  # a word or a choice that is not there is refused


def test_every_command_is_named_in_the_help_of_the_program() -> None:
    said = CliRunner().invoke(cli, ["--help"]).output
    assert all(re.search(rf"^  {re.escape(name)}\s+\S", said, re.MULTILINE) for name in COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_choice_of_a_command_is_explained(name: str) -> None:
    for param in command(name).params:
        if isinstance(param, click.Option):
            assert param.help and param.help.endswith("."), (name, param.name)
