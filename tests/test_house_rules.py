"""The code keeps its own rules: lint, layout, types, imports, and what may stand in a file."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


def run(*command: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_ruff_finds_nothing() -> None:
    run("ruff", "check", ".")


def test_the_layout_of_the_code_is_ruffs() -> None:
    run("ruff", "format", "--check", ".")


def test_every_type_holds() -> None:
    run("mypy")


def test_core_imports_neither_qt_nor_app_and_only_downwards() -> None:
    code = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_command_line_starts_without_qt() -> None:
    code = (
        "import sys, app.cli, app.cli_commands, core.planning;"
        "sys.exit(any(name.startswith('PySide6') for name in sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False)
    assert done.returncode == 0


def test_the_top_level_holds_only_what_it_should() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "app",
        "core",
        "tests",
        "assets",
        "demo_projects",
    }
    assert {name for name in top if not name.startswith(".")} <= allowed


def test_no_file_names_a_path_of_somebodys_machine_or_leaves_work_for_later() -> None:
    wrong = re.compile(r"(?<![\w.])/(?:work|root|home)/\w|\bTO" + r"DO\b|\bFIX" + r"ME\b")
    found = []
    for folder in ("app", "core", "tests", "demo_projects", ".ci"):
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix not in {".py", ".md", ".toml", ".json", ""} or not path.is_file():
                continue
            text = path.read_text(encoding="utf-8", errors="replace")
            found += [f"{path.relative_to(ROOT)}: {m.group()}" for m in wrong.finditer(text)]
    assert not found
