"""Everything the workshop needs, written into a folder whole or not at all.

All files are made in memory, written next to where they go, and only then moved into place.
A full disk or a crash before that leaves the files of the last time untouched.
"""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import tempfile
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from core.errors import SaveFailedError
from core.outlines.write import DrawItem, write_dxf
from core.plan import Plan, plan_json
from core.reports.blank_labels import blank_labels_pdf
from core.reports.cutlist import CutList, build_cut_list
from core.reports.drawings import (
    DEFAULT_LAYERS,
    Layers,
    layer_colours,
    setup_items,
    sheet_items,
)
from core.reports.labels import LabelFormat, labels_pdf
from core.reports.pages import cut_list_pdf
from core.reports.spreadsheets import buying_csv, pieces_csv, saw_csv

_OURS = re.compile(r"(?:sheet-\d{2,}|sheet-\d{2,}-clamping-\d{2,})\.dxf")


def write_reports(
    plan: Plan,
    out_dir: str | os.PathLike[str],
    *,
    paper: str = "",
    label_form: LabelFormat | str | None = None,
    first_label: int | None = None,
    dxf_version: str = "",
    layers: Layers | None = None,
    stamp: str | None = None,
    version: str = "",
) -> list[Path]:
    """Write cut list, labels, tables and drawings into a folder, which is made if need be.

    What is not given is as the project's output says. paper: "" there means A4, or Letter where
    the project's units are inches. stamp: date and time to print, None for now. Returns the
    files written: cut-list.pdf, labels.pdf, pieces.csv, saw-cuts.csv, buying.csv, sheets/*.dxf,
    setups/*.dxf. Drawings of sheets and clampings left from an earlier plan are removed, as
    they would cut the wrong thing.

    Raises SaveFailedError, after which the folder is as it was, and InvalidRequestError for a
    paper, label format or DXF version that does not exist.
    """
    files = report_files(
        plan,
        paper=paper,
        label_form=label_form,
        first_label=first_label,
        dxf_version=dxf_version,
        layers=layers,
        stamp=stamp,
        version=version,
    )
    folder = Path(out_dir)
    written = write_all(folder, files)
    keep = {path.name for path in written}
    for name in ("sheets", "setups"):
        for path in sorted((folder / name).glob("*.dxf")):
            if path.name not in keep and _OURS.fullmatch(path.name):
                _remove(path)
    stale = folder / "blank-labels.pdf"
    if stale.name not in keep and stale.exists():
        _remove(stale)
    return written


def report_files(
    plan: Plan,
    *,
    paper: str = "",
    label_form: LabelFormat | str | None = None,
    first_label: int | None = None,
    dxf_version: str = "",
    layers: Layers | None = None,
    stamp: str | None = None,
    version: str = "",
) -> dict[str, bytes]:
    """The bytes of every report by its path within the folder; arguments as write_reports."""
    output = plan.project.output
    paper = paper or output.paper or default_paper(plan)
    label_form = output.label_sheet if label_form is None else label_form
    first_label = output.first_label if first_label is None else first_label
    dxf_version = dxf_version or output.dxf_version
    layers = Layers(dict(output.layers)) if layers is None else layers
    stamp = now_stamp() if stamp is None else stamp
    cut_list = build_cut_list(plan)
    files = {
        "cut-list.pdf": cut_list_pdf(plan, paper=paper, stamp=stamp, version=version),
        "labels.pdf": labels_pdf(plan, form=label_form, first_place=first_label, stamp=stamp),
        "pieces.csv": pieces_csv(plan, cut_list).encode("utf-8"),
        "saw-cuts.csv": saw_csv(plan, cut_list).encode("utf-8"),
        "buying.csv": buying_csv(plan).encode("utf-8"),
    }
    blanks = blank_labels_pdf(plan, form=label_form, stamp=stamp, cut_list=cut_list)
    if blanks is not None:
        files["blank-labels.pdf"] = blanks
    files.update(drawing_files(cut_list, dxf_version=dxf_version, layers=layers))
    return files


def drawing_files(
    cut_list: CutList, *, dxf_version: str = "R2010", layers: Layers = DEFAULT_LAYERS
) -> dict[str, bytes]:
    """DXF bytes of every sheet and every clamping, by path."""
    files: dict[str, bytes] = {}
    for lines in cut_list.sheets:
        number = lines.sheet.number
        items = sheet_items(cut_list, lines, layers)
        files[f"sheets/sheet-{number:02d}.dxf"] = _dxf(items, dxf_version, layers)
        for setup in lines.setups:
            items = setup_items(cut_list, lines, setup, layers)
            name = f"setups/sheet-{number:02d}-clamping-{setup.index + 1:02d}.dxf"
            files[name] = _dxf(items, dxf_version, layers)
    return files


def write_plan_json(plan: Plan, path: str | os.PathLike[str]) -> None:
    """Write plan.json whole or not at all. Raises SaveFailedError."""
    target = Path(path)
    write_all(target.parent, {target.name: plan_json_bytes(plan)})


def plan_json_bytes(plan: Plan) -> bytes:
    """plan.json as UTF-8 bytes."""
    text = json.dumps(plan_json(plan), ensure_ascii=False, indent=1, allow_nan=False)
    return (text + "\n").encode("utf-8")


def default_paper(plan: Plan) -> str:
    """Letter where the project is in inches, else A4."""
    return "Letter" if plan.project.units in ("in", "ft", "thou") else "A4"


def now_stamp() -> str:
    """The local date and time to the minute, as it is printed."""
    return datetime.now().strftime("%Y-%m-%d %H:%M")


def write_all(folder: Path, files: Mapping[str, bytes]) -> list[Path]:
    """Write files by their path within a folder: all of them complete before one is moved.

    Raises SaveFailedError naming the file; then nothing half-written is left and, unless the
    moving itself was cut short, every old file is as it was.
    """
    made: list[Path] = []
    stage: Path | None = None
    where = folder
    try:
        _make_folder(folder, made)
        stage = Path(tempfile.mkdtemp(prefix=".writing-", dir=folder))
        for index, (name, data) in enumerate(files.items()):
            where = folder / name
            _make_folder(where.parent, made)
            with open(stage / str(index), "wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
        for index, name in enumerate(files):
            where = folder / name
            os.replace(stage / str(index), where)
        os.rmdir(stage)
    except OSError as error:
        if stage is not None:
            shutil.rmtree(stage, ignore_errors=True)
        for path in reversed(made):
            _remove_empty(path)
        raise SaveFailedError(
            f"A file could not be written ({error.strerror or error})",
            str(where),
            "Check that the folder is writable, has room, and that no other program holds the "
            "file open.",
        ) from error
    return [folder / name for name in files]


def _dxf(items: list[DrawItem], dxf_version: str, layers: Layers) -> bytes:
    stream = io.BytesIO()
    write_dxf(stream, items, version=dxf_version, colours=layer_colours(items, layers))
    return stream.getvalue()


def _make_folder(folder: Path, made: list[Path]) -> None:
    """Make a folder and what is missing above it, noting each one made."""
    missing = []
    path = folder
    while not path.exists():
        missing.append(path)
        path = path.parent
    for path in reversed(missing):
        path.mkdir()
        made.append(path)
    if not folder.is_dir():
        raise NotADirectoryError(20, "There is a file where a folder should be", str(folder))


def _remove(path: Path) -> None:
    try:
        path.unlink()
    except OSError as error:
        raise SaveFailedError(
            f"A drawing of an earlier plan could not be removed ({error.strerror or error})",
            str(path),
            "Delete it by hand: it belongs to no sheet of this plan.",
        ) from error


def _remove_empty(path: Path) -> None:
    try:
        path.rmdir()
    except OSError:
        return
