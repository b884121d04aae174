"""What the project keeps about paper and files is what the files follow."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest

from core.errors import InvalidProjectError, InvalidRequestError
from core.plan import Plan
from core.project.file import project_from_json, project_to_json
from core.project.model import Project
from core.project.output import LabelSheet, Output, check_output
from core.reports.files import report_files
from core.reports.label_formats import LABEL_FORMATS, format_named, format_names, own_format
from core.reports.labels import label_guide, label_pages
from tests.unit.reports.pdf_reading import read_pages
from tests.unit.reports.report_plans import every_plan

PLAN = every_plan()["small"]
SHEET = LabelSheet("Yard labels", "A4", 2, 5, 99.0, 57.0, 5.0, 6.0, 101.0, 57.0)


def kept(**values: object) -> Plan:
    output = replace(Output(), **values)  # type: ignore[arg-type]
    return replace(PLAN, project=replace(PLAN.project, output=output))


def test_an_output_survives_saving_and_a_plain_one_is_not_written() -> None:
    output = Output("A3", "Yard labels", 4, "R12", (("saw", "CUT LINES"),), (SHEET,))
    project = Project(output=output)
    assert project_from_json(project_to_json(project)) == project
    assert '"output"' not in project_to_json(Project())
    assert project_from_json(project_to_json(Project())).output == Output()


@pytest.mark.parametrize(
    ("output", "message"),
    (
        (Output(paper="A9"), "no paper called “A9”"),
        (Output(dxf_version="R9"), "not written as R9"),
        (Output(first_label=0), "below 1"),
        (Output(layers=(("saw", "A"), ("saw", "B"))), "named twice"),
        (Output(label_sheets=(SHEET, SHEET)), "same name"),
    ),
)
def test_an_output_no_file_can_follow_is_refused(output: Output, message: str) -> None:
    with pytest.raises(InvalidProjectError, match=message):
        check_output(output)
    with pytest.raises(InvalidProjectError, match=message):
        project_from_json(project_to_json(Project(output=output)))


def test_files_follow_the_project_where_nothing_else_is_asked(tmp_path: Path) -> None:
    plan = kept(
        paper="A3",
        label_sheet="Yard labels",
        first_label=3,
        dxf_version="R2000",
        layers=(("outside", "PROFILE"),),
        label_sheets=(SHEET,),
    )
    files = report_files(plan, stamp="x")
    assert read_pages(files["cut-list.pdf"])[0].width_mm == pytest.approx(420.0, abs=0.01)
    labels = read_pages(files["labels.pdf"])
    first = min((t for t in labels[0].texts if t.words), key=lambda t: -t.box[3])
    # Two places are left free: the first label is the first of the second row.
    assert first.box[3] < 297.0 - 6.0 - 57.0
    path = tmp_path / "a.dxf"
    path.write_bytes(files["sheets/sheet-01.dxf"])
    document = ezdxf.readfile(path)
    assert document.acad_release == "R2000"
    assert document.modelspace().query('LWPOLYLINE[layer=="PROFILE"]')
    asked = report_files(plan, paper="Letter", dxf_version="R12", stamp="x")
    assert read_pages(asked["cut-list.pdf"])[0].width_mm == pytest.approx(279.4, abs=0.01)


def test_own_sheets_are_found_by_name_after_those_in_common_use() -> None:
    output = Output(label_sheets=(SHEET,))
    assert format_names(output) == [*LABEL_FORMATS, "Yard labels"]
    form = format_named("Yard labels", "mm", output)
    assert form == own_format(SHEET)
    assert (form.per_page, form.corner(0)) == (10, (5.0, 297.0 - 6.0 - 57.0))
    with pytest.raises(InvalidRequestError, match=r"no labels called “Other”.*Yard labels"):
        format_named("Other", "mm", output)
    with pytest.raises(InvalidRequestError, match="do not go on A4"):
        own_format(replace(SHEET, columns=3))
    with pytest.raises(InvalidRequestError, match="needs a name"):
        own_format(replace(SHEET, name=" "))


def test_labels_land_inside_the_outlines_of_an_own_sheet() -> None:
    plan = kept(label_sheet="Yard labels", label_sheets=(SHEET,))
    form = own_format(SHEET)
    (guide,) = [label_guide(form)]
    outlines = [m for m in guide.marks if getattr(m, "role", "") == "label-outline"]
    assert len(outlines) == 10
    pages = label_pages(plan, form="Yard labels")
    data = report_files(plan, stamp="x")["labels.pdf"]
    for page in read_pages(data):
        for found in (t for t in page.texts if t.words):
            x1, y1, x2, y2 = found.box
            assert any(
                cx <= x1 and cy <= y1 and x2 <= cx + 99.0 and y2 <= cy + 57.0
                for cx, cy in (form.corner(k) for k in range(10))
            ), found.words
    assert len(pages) == len(read_pages(data))
