"""The project file: one JSON document with a format name and a version, written atomically."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from core.atomic import write_atomically
from core.errors import InvalidGeometryError, InvalidProjectError, UnreadableProject
from core.project.codec import from_plain, to_plain
from core.project.model import Project
from core.project.validate import validate_project

FORMAT = "seamwright-project"
VERSION = 1

#: version → what lifts a document of that version to the next one.
MIGRATIONS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {}


def project_to_json(project: Project) -> str:
    """The project as the text of its file; the same project always gives the same text."""
    document = {"format": FORMAT, "version": VERSION, "project": to_plain(project)}
    return json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def project_from_json(text: str, where: str = "the project") -> Project:
    """The project a text holds.

    Raises UnreadableProject (damaged, foreign or newer) or InvalidProjectError (a value out of
    its range), both naming where.
    """
    try:
        document = json.loads(text)
    except (json.JSONDecodeError, RecursionError) as problem:
        line = getattr(problem, "lineno", 0)
        place = f"{where}, line {line}" if line else where
        raise UnreadableProject(
            "This is no Seamwright project, or it is damaged",
            place,
            "Open another file, or restore this one from a backup.",
        ) from None
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise UnreadableProject(
            "This is no Seamwright project", where, "Open a file that Seamwright saved."
        )
    version = document.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise UnreadableProject("The project's version is damaged", where, "Restore a backup.")
    if version > VERSION:
        raise UnreadableProject(
            f"A newer Seamwright saved this (file version {version}, this one reads {VERSION})",
            where,
            "Update Seamwright; the file was left as it is.",
        )
    while version < VERSION:
        document = MIGRATIONS[version](document)
        version += 1
    try:
        return validate_project(from_plain(Project, document.get("project"), "project"))
    except (UnreadableProject, InvalidProjectError) as problem:
        raise type(problem)(problem.what, f"{where}, {problem.where}", problem.remedy) from None
    except (InvalidGeometryError, ValueError) as problem:
        raise UnreadableProject(
            f"An outline cannot be used ({problem})", where, "Restore a backup."
        ) from None


def load_project(path: Path | str) -> Project:
    """The project saved at path.

    A folder stands for the one project file in it. Raises UnreadableProject or
    InvalidProjectError with the file's name.
    """
    source = project_file(path)
    try:
        raw = source.read_bytes()
    except FileNotFoundError:
        raise UnreadableProject(
            "There is no such file", str(source), "Check the name and the folder."
        ) from None
    except OSError as problem:
        raise UnreadableProject(
            f"The file cannot be read ({problem.strerror})", str(source), "Check its permissions."
        ) from None
    if not raw.strip():
        raise UnreadableProject("The file is empty", str(source), "Restore it from a backup.")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UnreadableProject(
            "This is no Seamwright project (it is not text)",
            str(source),
            "Open a file that Seamwright saved.",
        ) from None
    return project_from_json(text, str(source))


def project_file(path: Path | str) -> Path:
    """The project file meant by path: itself, or the only ``.json`` of a folder.

    Raises UnreadableProject if a folder holds none or several.
    """
    source = Path(path)
    if not source.is_dir():
        return source
    inside = sorted(source.glob("*.json"))
    if len(inside) == 1:
        return inside[0]
    what = "This folder holds no project" if not inside else "This folder holds several projects"
    raise UnreadableProject(what, str(source), "Name the project file itself.")


def save_project(project: Project, path: Path | str) -> None:
    """Write the project to path, all or nothing. Raises SaveFailedError."""
    write_atomically(path, project_to_json(project))
