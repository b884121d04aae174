"""Reading drawings into a project, off the window's thread: what is asked for and what comes."""

from __future__ import annotations

import functools
import os
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from app.background import READING
from app.i18n import tr
from app.jobs import Progress, Stop
from core.errors import SeamwrightError
from core.findings import Finding
from core.outlines.model import Role
from core.outlines.roles import LayerChoice
from core.project.model import Answer, Project

if TYPE_CHECKING:
    from core.project.compare import Comparison

_NO_NAME = Project().name
_LONG_BYTES = 100_000  # some 0.1 s of reading; below it a thread is quicker than the process


@dataclass(frozen=True)
class HowToRead:
    """What the maker said about the reading; see :func:`core.project.edits.add_drawing`.

    remember: decisions about layers that hold for drawings to come as well.
    """

    units: str | None = None
    roles: tuple[tuple[str, Role], ...] = ()
    choices: tuple[LayerChoice, ...] = ()
    forget: tuple[str, ...] = ()
    gap_mm: float | None = None
    join: tuple[Path, ...] = ()
    part: tuple[str, ...] = ()
    answers: tuple[Answer, ...] = ()
    bring_back: bool = False
    remember: tuple[LayerChoice, ...] = ()

    @property
    def plain(self) -> bool:
        """True if nothing was said: the files are only to be read."""
        return self == HowToRead()


@dataclass(frozen=True)
class ReadDrawings:
    """What reading files gave: the new project, findings by file name, files that failed.

    findings: of each file, what changed against before; the rest stands with the drawings.
    compared: drawings that were read before and whose file is another now. folder: the one that
    the project's paths start from, None if it had no file yet.
    """

    project: Project
    findings: tuple[tuple[str, tuple[Finding, ...]], ...]
    added: tuple[str, ...]
    changed: int
    failures: tuple[SeamwrightError, ...]
    compared: tuple[Comparison, ...] = ()
    folder: Path | None = None


def _is_long(path: Path) -> bool:
    """True if reading the file takes so long that the window would feel it on a thread."""
    try:
        return path.stat().st_size > _LONG_BYTES
    except OSError:
        return False  # the reader says what is wrong with it


def _plain_name(path: Path) -> str:
    """A drawing's file name as one says it."""
    return " ".join(path.stem.replace("_", " ").split()) or _NO_NAME


def read_drawings(
    project: Project,
    paths: Iterable[Path],
    *,
    how: HowToRead | None = None,
    folder: Path | None = None,
    progress: Progress,
    stop: Stop,
) -> ReadDrawings:
    """Read files into a project, one after the other; a file that fails leaves the others.

    A project that has nothing in it and no name yet gets the first drawing's.
    folder: the project file's.
    """
    from core.project.answers import with_memory
    from core.project.compare import compare
    from core.project.edits import PanelDefaults, add_drawing
    from core.project.places import find_drawing

    how = how or HowToRead()
    rows = list(paths)
    had = bool(project.panels or project.drawings)
    findings: list[tuple[str, tuple[Finding, ...]]] = []
    added: list[str] = []
    compared: list[Comparison] = []
    changed = 0
    failures: list[SeamwrightError] = []
    only = project.shop.materials[0].name if len(project.shop.materials) == 1 else ""
    defaults = PanelDefaults(material=only)
    for i, path in enumerate(rows):
        if stop():
            break
        text = tr("Reading {file}").format(file=path.name)

        def share(
            part: float, _text: str = "", _partial: object = None, i: int = i, text: str = text
        ) -> None:
            progress((i + part) / len(rows), text)

        share(0.0)
        before = find_drawing(project, path, folder)
        read = functools.partial(READING.call, add_drawing) if _is_long(path) else add_drawing
        try:
            edited = read(
                project,
                path,
                units=how.units,
                roles=dict(how.roles),
                choices=how.choices,
                forget=how.forget,
                gap_mm=how.gap_mm,
                join=how.join,
                part=how.part,
                answers=how.answers,
                bring_back=how.bring_back,
                defaults=defaults,
                project_dir=folder,
                progress=share,
                stop=stop,
            )
        except SeamwrightError as error:
            failures.append(error)
            continue
        if before is not None:
            comparison = compare(project, edited, before.id)
            if comparison.changed or comparison.told:
                compared.append(comparison)
        project = edited.project
        findings.append((os.path.abspath(path), edited.changes_told))
        added.extend(edited.added)
        changed += len(edited.changed) + len(edited.lost)
    if added and project.name == _NO_NAME and not had:
        project = replace(project, name=_plain_name(Path(findings[0][0])))
    if how.remember:
        project = with_memory(project, how.remember)
    return ReadDrawings(
        project, tuple(findings), tuple(added), changed, tuple(failures), tuple(compared), folder
    )
