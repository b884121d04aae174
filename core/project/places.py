"""Where a project's drawings lie: paths as they are kept, and the files they lead to."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from core.project.model import Drawing, Project


def find_drawing(
    project: Project, path: Path | str, project_dir: Path | str | None = None
) -> Drawing | None:
    """The drawing that was read from this path, alone or joined to another, or None.

    A file of the same name from another place counts only if the one that was read is gone.
    """
    source = Path(path)
    wanted = place(source, None)
    for drawing in project.drawings:
        if drawing.path and place(drawing.path, project_dir) == wanted:
            return drawing
    for drawing in project.drawings:
        if any(place(file.path, project_dir) == wanted for file in drawing.joined):
            return drawing
    return next(
        (
            d
            for d in project.drawings
            if d.file_name == source.name and not absolute_path(d.path, project_dir).exists()
        ),
        None,
    )


def absolute_path(path: str, project_dir: Path | str | None) -> Path:
    """Where a path kept in the project leads."""
    kept = Path(path)
    if kept.is_absolute() or project_dir is None:
        return kept
    return Path(project_dir) / kept


def place(path: Path | str, project_dir: Path | str | None) -> Path:
    """Where a path leads, so that two ways of writing it compare equal."""
    return absolute_path(str(path), project_dir).expanduser().resolve()


def with_paths_from(
    project: Project,
    old_dir: Path | str | None,
    new_dir: Path | str | None,
    *,
    known: dict[str, str] | None = None,
) -> Project:
    """The project with its drawings' paths kept relative to new_dir instead of old_dir.

    A project that is saved for the first time, or elsewhere, keeps finding its drawings, and
    finds them still when its folder is moved together with them.
    known: paths of before and of now, filled and used where many states of a project are moved
    between the same folders; the disk is asked about each path once.
    """
    found = known if known is not None else {}

    def again(path: str) -> str:
        if path not in found:
            kept = absolute_path(path, old_dir)
            found[path] = relative_path(kept, new_dir) if path and kept.is_absolute() else path
        return found[path]

    drawings = tuple(
        replace(
            drawing,
            path=again(drawing.path),
            joined=tuple(replace(file, path=again(file.path)) for file in drawing.joined),
        )
        for drawing in project.drawings
    )
    return project if drawings == project.drawings else replace(project, drawings=drawings)


def drawing_files(
    drawing: Drawing, project_dir: Path | str | None = None
) -> tuple[tuple[Path, str], ...]:
    """(path, SHA-256 as read) of every file of a drawing."""
    rows = [(drawing.path, drawing.sha256), *((f.path, f.sha256) for f in drawing.joined)]
    return tuple((absolute_path(path, project_dir), digest) for path, digest in rows if path)


def relative_path(path: Path, project_dir: Path | str | None) -> str:
    """The path as kept in the project: relative to its folder where that is possible."""
    absolute = path.expanduser().resolve()
    if project_dir is None:
        return absolute.as_posix()
    try:
        return Path(os.path.relpath(absolute, Path(project_dir).resolve())).as_posix()
    except ValueError:  # another drive
        return absolute.as_posix()
