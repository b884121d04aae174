"""The command line: import, plan, check, testpiece, open. Qt is loaded only by ``open``."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from core.errors import SeamwrightError

EXIT_PLANNED, EXIT_STOPS, EXIT_INVALID = 0, 1, 2


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence and exits with 2, nothing else on the screen."""

    def error(self, message: str) -> None:  # type: ignore[override]
        self.exit(EXIT_INVALID, f"seamwright: {message}. See “{self.prog} --help”.\n")


def build_parser() -> argparse.ArgumentParser:
    """The whole command line."""
    parser = _Parser(
        prog="seamwright",
        description="Plans panels that are larger than the router's bed: seams, saw cuts, "
        "nesting, cut list. Lengths are written like 18, 17.6mm, 23/32in or 5'3\".",
    )
    commands = parser.add_subparsers(dest="command", required=True, parser_class=_Parser)
    _add_import(commands)
    _add_plan(commands)
    check = commands.add_parser("check", help="what is wrong with a project, and nothing else")
    check.add_argument("project", metavar="P.json")
    _add_test_piece(commands)
    show = commands.add_parser("open", help="open the window")
    show.add_argument("paths", nargs="*", metavar="P.json | FILE")
    return parser


def _add_test_piece(commands: argparse._SubParsersAction[_Parser]) -> None:
    command = commands.add_parser(
        "testpiece", help="the drawing of a test piece that finds the fit, and its result"
    )
    add = command.add_argument
    add("project", metavar="P.json")
    add("--out", metavar="FILE.dxf", help="write its drawing, and its page as PDF beside it")
    add("--material", metavar="NAME", help="the board; default: the one most panels are made of")
    add("--cutter", metavar="D", help="the bit; default: the one that cuts outlines")
    add("--joint", choices=("glued", "knock-down"), default="glued", help="what the joints are for")
    add("--along", metavar="WHICH", help="keep the result: the word or figure that was right along")
    add("--across", metavar="WHICH", help="the same across the grain")
    add("--slot", metavar="W", help="what the slot to be measured measured: the bit's real size")


def _add_import(commands: argparse._SubParsersAction[_Parser]) -> None:
    command = commands.add_parser("import", help="read drawings into a project")
    add = command.add_argument
    add("files", nargs="+", metavar="FILE")
    add("--project", required=True, metavar="P.json", help="the project; made if it is not there")
    add("--units", choices=("mm", "in"), help="take the numbers in the drawings in this unit")
    add("--material", metavar="NAME")
    add("--thickness", metavar="T", help="nominal thickness of the board")
    add("--measured", metavar="T", help="thickness as measured with a caliper")
    add("--bed", metavar="WxH", help="travel of the bit's centre")
    add("--table", metavar="WxH", help="largest blank the table takes (default: the travel)")
    add("--cutter", metavar="D", help="diameter of the bit")
    add("--sheet", metavar="WxH[xQTY]", action="append", help="a sheet size (may be repeated)")
    add("--spacing", metavar="S", help="distance between pieces")
    add("--edge-margin", metavar="M", help="distance of pieces from a board's edge")
    add("--fit", metavar="F", help="total play of a joint; larger is looser, never negative")
    add("--kerf", metavar="K", help="width of a saw cut")
    add("--grain", choices=("free", "along", "across"), help="grain on the panels")
    add(
        "--refit",
        action="store_true",
        help="re-cut every joint recognised with certainty for the measured thickness",
    )


def _add_plan(commands: argparse._SubParsersAction[_Parser]) -> None:
    command = commands.add_parser("plan", help="work out the whole plan and write its files")
    add = command.add_argument
    add("project", metavar="P.json")
    add("--out", required=True, metavar="DIR")
    budget = command.add_mutually_exclusive_group()
    budget.add_argument("--seconds", type=_positive_seconds, metavar="S", help="time to spend")
    budget.add_argument("--steps", type=_positive_whole, metavar="N", help="steps to spend")
    add("--seed", type=_whole, default=None, metavar="N")
    add(
        "--compare",
        action="store_true",
        help="also lay everything out in the other ways onto the machine, for a table of figures",
    )
    add("--open", action="store_true", help="then open the window, where there is a screen")


def _positive_seconds(text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = 0.0
    if not 0 < value < 1e6:
        raise argparse.ArgumentTypeError(f"“{text}” is no time in seconds above zero")
    return value


def _positive_whole(text: str) -> int:
    value = _whole(text)
    if value < 1:
        raise argparse.ArgumentTypeError(f"“{text}” is no whole number above zero")
    return value


def _whole(text: str) -> int:
    if not text.isdecimal():
        raise argparse.ArgumentTypeError(f"“{text}” is no whole number of zero or more")
    return int(text)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command. Returns the exit code: 0 fine, 1 with stops, 2 unusable input."""
    options = build_parser().parse_args(arguments)
    try:
        code = _COMMANDS[options.command](options)
        sys.stdout.flush()
        return code
    except SeamwrightError as problem:
        print(f"seamwright: {problem}", file=sys.stderr)
        return EXIT_INVALID
    except BrokenPipeError:
        # Whoever read the output has heard enough.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return EXIT_PLANNED
    except KeyboardInterrupt:
        print("seamwright: stopped; no file was left half-written", file=sys.stderr)
        return EXIT_INVALID


def _import(options: argparse.Namespace) -> int:
    from app.cli_commands import import_drawings

    return import_drawings(options)


def _plan(options: argparse.Namespace) -> int:
    from app.cli_commands import plan

    code = plan(options)
    if options.open:
        code = max(code, _open_if_screen(options.project))
    return code


def _check(options: argparse.Namespace) -> int:
    from app.cli_commands import check

    return check(options)


def _test_piece(options: argparse.Namespace) -> int:
    from app.cli_commands import test_piece

    return test_piece(options)


def _open(options: argparse.Namespace) -> int:
    missing = [path for path in options.paths if not Path(path).exists()]
    if missing:
        raise SeamwrightError("There is no such file", missing[0], "Check the name.")
    if not _has_screen():
        raise SeamwrightError(
            "There is no screen here to show the window on",
            "open",
            "Run it in a desktop session; plan, check and import need no screen.",
        )
    from app.main import run_window

    return run_window(list(options.paths))


def _has_screen() -> bool:
    """False on a Linux machine without a display server, unless Qt was told what to draw on."""
    return not sys.platform.startswith("linux") or any(
        os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    )


def _open_if_screen(project: str) -> int:
    if not _has_screen():
        print("There is no screen here, so the window was not opened.", file=sys.stderr)
        return EXIT_PLANNED
    from app.main import run_window

    return run_window([project])


_COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "import": _import,
    "plan": _plan,
    "check": _check,
    "testpiece": _test_piece,
    "open": _open,
}


def open_window() -> int:
    """Entry point without a console: the window, with what was named."""
    return main(["open", *sys.argv[1:]])
