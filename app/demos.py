"""The demo projects that come with the program, one click away on the first start."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from app.i18n import tr

DEMO_FOLDER = Path(__file__).resolve().parent.parent / "demo_projects"


@dataclass(frozen=True)
class Demo:
    """A demo: its title, a line about it and its project file."""

    title: str
    about: str
    path: Path


def demos(folder: Path = DEMO_FOLDER) -> list[Demo]:
    """The demos found, in the order they teach."""
    known = {
        "studio_counter": (
            tr("Studio counter"),
            tr("A wavy counter front, longer than the machine. Millimetres."),
        ),
        "glaze_shelves": (
            tr("Glaze shelves"),
            tr("Dividers with cross-halvings, some parts for the saw. Inches."),
        ),
        "kiln_wall": (
            tr("Kiln wall"),
            tr("A big order: about 160 pieces, offcuts in the rack. Millimetres."),
        ),
    }
    found = []
    for name, (title, about) in known.items():
        files = sorted((folder / name).glob("*.json"))
        path = next((p for p in files if p.stem in (name, "project")), None)
        path = path or (files[0] if files else None)
        if path is not None:
            found.append(Demo(title, about, path))
    return found
