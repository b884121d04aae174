"""Open instances for the nesting benchmarks: one JSON file each, in a folder beside the tree.

The folder is the argument --data, else the environment variable SEAMWRIGHT_DATASETS, else
``../shared/datasets`` beside the checkout. A file holds name, kind ("strip" or "bins"), height
and board_length, or width, height and optimum, and pieces with quantity, rotations, polygon.
"""

from __future__ import annotations

import argparse
import json
import os
from dataclasses import dataclass
from pathlib import Path

from shapely.geometry import Polygon, box

from core.nesting import NestPiece, NestSheet

_BESIDE = Path(__file__).resolve().parents[3] / "shared" / "datasets"


@dataclass(frozen=True, slots=True)
class Instance:
    """A published instance. optimum: sheets, for bins; None for strips."""

    name: str
    kind: str
    pieces: tuple[NestPiece, ...]
    sheet: NestSheet
    height: float
    area: float
    optimum: int | None


def read_instance(path: Path) -> Instance:
    """One instance from its file."""
    data = json.loads(path.read_text(encoding="utf-8"))
    pieces = tuple(
        NestPiece(f"p{k}", Polygon(one["polygon"]), one["quantity"], tuple(one["rotations"]))
        for k, one in enumerate(data["pieces"])
    )
    strip = data["kind"] == "strip"
    width = data["board_length"] if strip else data["width"]
    sheet = NestSheet("sheet", box(0, 0, width, data["height"]), 1 if strip else None)
    area = sum(piece.polygon.area * piece.quantity for piece in pieces)
    return Instance(
        data["name"], data["kind"], pieces, sheet, data["height"], area, data.get("optimum")
    )


def arguments(what: str, seconds: str) -> argparse.ArgumentParser:
    """The arguments both benchmarks take."""
    parser = argparse.ArgumentParser(description=what)
    parser.add_argument("names", nargs="*", help="instances; all if none is given")
    parser.add_argument("--seconds", default=seconds, help="budgets, e.g. 10,60")
    parser.add_argument("--seeds", default="1,2,3")
    parser.add_argument("--data", default=os.environ.get("SEAMWRIGHT_DATASETS", str(_BESIDE)))
    return parser


def instances(folder: str, kind: str, names: list[str]) -> list[Instance]:
    """The instances of a kind in a folder, by name; none if there is no such folder."""
    found = [read_instance(path) for path in sorted(Path(folder).glob("*.json"))]
    wanted = {name.lower() for name in names}
    return [one for one in found if one.kind == kind and (not wanted or one.name.lower() in wanted)]


def load() -> str:
    """The machine's load average, to be told beside any figure."""
    return ", ".join(f"{value:.2f}" for value in os.getloadavg())
