from __future__ import annotations

import sys
import types

import pytest
import typer
from typer.main import Typer
from typer.testing import CliRunner

from defectmap.commands.lazy import LazyCommand, LazyGroup, repeat_options
from defectmap.errors import DefectmapError, UnreadablePhoto

runner = CliRunner()


def program(lazy: dict[str, LazyCommand]) -> Typer:
    class Group(LazyGroup):
        pass

    Group.lazy = lazy
    app = typer.Typer(cls=Group)

    @app.callback()
    def top() -> None:
        """A program."""

    @app.command()
    def here() -> None:
        """Say where it is."""
        typer.echo("here")

    return app


def there(name: str, times: list[str] = typer.Option([], "--before")) -> None:  # noqa: B008
    """Say a name."""
    typer.echo(f"{name} {times}")


@pytest.fixture
def elsewhere(monkeypatch: pytest.MonkeyPatch) -> LazyCommand:
    """A module that exists only in memory; the file it stands for is the package's own `errors.py`."""
    module = types.ModuleType("defectmap.errors")
    vars(module)["command"] = there
    monkeypatch.setitem(sys.modules, "defectmap.errors", module)
    return LazyCommand(module="defectmap.errors", attribute="command", help="Say so.", many=("--before",))


def test_lazy_command_is_listed_by_its_help_and_runs(elsewhere: LazyCommand) -> None:
    app = program({"there": elsewhere})
    assert "Say so." in runner.invoke(app, ["--help"]).output
    result = runner.invoke(app, ["there", "name", "--before", "a", "b"])
    assert result.output == "name ['a', 'b']\n"


def test_listing_imports_nothing() -> None:
    absent = LazyCommand(module="defectmap.errors", attribute="no_such_thing", help="Would fail if loaded.")
    assert "Would fail" in runner.invoke(program({"there": absent}), ["--help"]).output


@pytest.mark.parametrize(
    ("typed", "understood"),
    [
        (["--before", "a", "b", "--after", "c"], ["--before", "a", "--before", "b", "--after", "c"]),
        (["--before", "a", "--before", "b"], ["--before", "a", "--before", "b"]),
        (["--json", "-", "--before", "a"], ["--json", "-", "--before", "a"]),
        (["--before", "a", "--json", "x", "y"], ["--before", "a", "--json", "x", "y"]),
        ([], []),
    ],
)
def test_options_with_several_values(typed: list[str], understood: list[str]) -> None:
    assert repeat_options(typed, many=("--before", "--after")) == understood


@pytest.mark.parametrize(
    ("error", "status"), [(DefectmapError("Wrong. Do this."), 2), (UnreadablePhoto("No."), 3)]
)
def test_our_errors_end_as_one_sentence(
    monkeypatch: pytest.MonkeyPatch, error: DefectmapError | UnreadablePhoto, status: int
) -> None:
    from defectmap.commands import program as cli

    def fail(*args: object, **options: object) -> None:
        raise error

    module = types.ModuleType("defectmap.commands.show_demo")
    vars(module).update(run_demo=fail, RECORD="record")
    monkeypatch.setitem(sys.modules, "defectmap.commands.show_demo", module)
    result = runner.invoke(cli.app, ["demo"])
    assert result.exit_code == status
    assert result.stderr == f"Error: {error}\n"
