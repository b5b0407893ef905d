"""The command ``drainscale``: finds its subcommands by entry points, loads only the one called.

A subcommand is an entry point of the group ``drainscale.commands`` that names a function
``main(argv: Sequence[str]) -> int``. Its help line is the first line of its module's
docstring, read from the source without running it: so ``--help`` is quick, and the kit
never imports the server or the simulation on its own account.

Exit status: what the subcommand returns; 2 for a wrong call or a wrong input file, 1 for
another error of ours, 130 after Ctrl-C, 141 when nobody reads the output any more.
"""

import argparse
import ast
import difflib
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from importlib.machinery import ModuleSpec, PathFinder, SourceFileLoader
from importlib.metadata import EntryPoint, entry_points
from typing import cast

from drainscale import __version__
from drainscale.errors import DrainscaleError, InputError

GROUP = "drainscale.commands"
EXIT_ERROR = 1
EXIT_WRONG_INPUT = 2
EXIT_INTERRUPTED = 130  # 128 + SIGINT, as shells have it
EXIT_BROKEN_PIPE = 141  # 128 + SIGPIPE

_EXTRAS = {"drainscale_server": "server", "drainscale_sim": "sim"}  # what brings a package's needs

Command = Callable[[Sequence[str]], int]


def run() -> int:
    """Run the command with the arguments of this process: the console script."""
    return main(sys.argv[1:])


def main(argv: Sequence[str]) -> int:
    """Run the command.

    Args:
        argv: The arguments, without the name of the command itself.

    Returns:
        The exit status.
    """
    try:
        status = _dispatch(argv)
        sys.stdout.flush()  # so that a reader who has gone is met here
    except BrokenPipeError:
        _drop_output()
        return EXIT_BROKEN_PIPE
    except KeyboardInterrupt:
        _complain("interrupted")
        return EXIT_INTERRUPTED
    except InputError as error:
        _complain(str(error))
        return EXIT_WRONG_INPUT
    except DrainscaleError as error:
        _complain(str(error))
        return EXIT_ERROR
    return status


def commands() -> Mapping[str, EntryPoint]:
    """Give the installed subcommands by name, in the order of the alphabet."""
    found = {point.name: point for point in entry_points(group=GROUP)}
    return dict(sorted(found.items()))


def help_line(point: EntryPoint) -> str:
    """Give the first docstring line of a subcommand's module, without importing anything."""
    spec = _find(point.module)
    if spec is None or not isinstance(spec.loader, SourceFileLoader):
        return "(not installed)"
    source = spec.loader.get_source(point.module) or ""
    return (ast.get_docstring(ast.parse(source)) or "").partition("\n")[0]


def _find(module: str) -> ModuleSpec | None:
    """Find a module on the path; ``importlib.util.find_spec`` would import its packages."""
    path: Sequence[str] | None = None
    spec: ModuleSpec | None = None
    parts = module.split(".")
    for depth in range(1, len(parts) + 1):
        spec = PathFinder.find_spec(".".join(parts[:depth]), path)
        if spec is None:
            return None
        path = spec.submodule_search_locations
    return spec


def _dispatch(argv: Sequence[str]) -> int:
    found = commands()
    parser = _parser(found)
    if not argv:
        parser.print_help(sys.stderr)
        return EXIT_WRONG_INPUT
    try:
        arguments = parser.parse_args(argv)
    except SystemExit as stop:  # argparse has said why
        return _status(stop)
    point = found.get(arguments.command)
    if point is None:
        return _unknown(arguments.command, found)
    return _call(point, arguments.arguments)


def _parser(found: Mapping[str, EntryPoint]) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="drainscale",
        description="Weighs, times and cues a fluid service of a sealed automatic transmission.",
        epilog=_listing(found),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"drainscale {__version__}")
    parser.add_argument("command", help="one of those below")
    parser.add_argument("arguments", nargs=argparse.REMAINDER, help="see drainscale COMMAND --help")
    return parser


def _listing(found: Mapping[str, EntryPoint]) -> str:
    width = max(map(len, found), default=0)
    lines = [f"  {name:{width}}  {help_line(point)}" for name, point in found.items()]
    return "\n".join(["commands:", *lines])


def _unknown(name: str, found: Mapping[str, EntryPoint]) -> int:
    close = difflib.get_close_matches(name, found, n=1)
    hint = f"did you mean '{close[0]}'?" if close else f"there are: {', '.join(found)}"
    _complain(f"no command {name!a}; {hint}")
    return EXIT_WRONG_INPUT


def _call(point: EntryPoint, arguments: Sequence[str]) -> int:
    try:
        command = cast(Command, point.load())
    except ModuleNotFoundError as error:
        _complain(f"{point.name} cannot run: {_what_is_missing(point, error.name or '')}")
        return EXIT_ERROR
    try:
        return command(arguments)
    except SystemExit as stop:  # the subcommand's own argparse
        return _status(stop)


def _what_is_missing(point: EntryPoint, module: str) -> str:
    if module.startswith("drainscale"):
        return f"{module} is not part of this installation"
    package = point.module.partition(".")[0]
    extra = _EXTRAS.get(package, "pi")
    return f"it needs {module}, which is not installed: pip install 'drainscale[{extra}]'"


def _status(stop: SystemExit) -> int:
    if stop.code is None:
        return 0
    if isinstance(stop.code, int):
        return stop.code
    _complain(str(stop.code))
    return EXIT_ERROR


def _complain(text: str) -> None:
    print(f"drainscale: {text}", file=sys.stderr)


def _drop_output() -> None:
    """Point stdout at nothing, so that the interpreter's last flush does not fail again."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
