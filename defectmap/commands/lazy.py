"""Commands that are imported only when run, so that help stays quick."""

from __future__ import annotations

import importlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

import typer
from typer.core import TyperCommand, TyperGroup


@dataclass(frozen=True, slots=True, kw_only=True)
class LazyCommand:
    """A command or a group of commands in another module."""

    module: str
    attribute: str  # a function, or a Typer app
    help: str
    many: tuple[str, ...] = ()  # options that take several values: `--before a.jpg b.jpg`

    def load(self) -> Any:
        """Import the module and return its command, ready to run."""
        target = getattr(importlib.import_module(self.module), self.attribute)
        if isinstance(target, typer.Typer):
            return typer.main.get_command(target)
        alone = typer.Typer(rich_markup_mode=None, add_completion=False)
        alone.command()(target)
        return typer.main.get_command(alone)


class LazyGroup(TyperGroup):
    """A group that lists `lazy` commands by their help alone and imports one when it is run."""

    lazy: ClassVar[dict[str, LazyCommand]] = {}

    def list_commands(self, ctx: Any) -> list[str]:
        """Names of all commands, in order."""
        return [*super().list_commands(ctx), *self.lazy]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Return the command, or for a lazy one a stand-in that only knows its help."""
        lazy = self.lazy.get(cmd_name)
        if lazy is None:
            return super().get_command(ctx, cmd_name)
        return TyperCommand(cmd_name, help=lazy.help)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """Import a lazy command at the moment it is run."""
        lazy = self.lazy.get(args[0])
        if lazy is None:
            return super().resolve_command(ctx, args)
        return args[0], lazy.load(), repeat_options(args[1:], many=lazy.many)


def repeat_options(args: Sequence[str], *, many: Sequence[str]) -> list[str]:
    """Write `--before a b` as `--before a --before b`, which is what the parser understands.

    Examples
    --------
    >>> repeat_options(["--before", "a", "b", "--json", "x"], many=("--before", "--after"))
    ['--before', 'a', '--before', 'b', '--json', 'x']
    """
    spelled: list[str] = []
    current, first = "", False
    for arg in args:
        if arg.startswith("-") and arg != "-":
            current, first = (arg, True) if arg in many else ("", False)
            spelled.append(arg)
        elif current and not first:
            spelled += [current, arg]
        else:
            spelled.append(arg)
            first = False
    return spelled
