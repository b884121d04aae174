"""What leaves the program for the workshop: pages, labels, templates, tables and drawings.

What is made of a plan is loaded when it is first asked for: the window shows choices of paper and
labels long before it writes a page.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from core.reports.buying import compare, compare_csv, compare_pdf
    from core.reports.cutlist import CutList, build_cut_list
    from core.reports.drawings import LAYERS, Layers
    from core.reports.files import report_files, write_plan_json, write_reports
    from core.reports.label_formats import LABEL_FORMATS, LabelFormat, format_named, format_names
    from core.reports.labels import label_guide_pdf, labels_pdf
    from core.reports.pages import cut_list_pages, cut_list_pdf
    from core.reports.paper import PAPERS, Paper
    from core.reports.print_test import print_test_pdf
    from core.reports.spreadsheets import buying_csv, pieces_csv, saw_csv
    from core.reports.svg import page_svg, pdf_page_png
    from core.reports.templates import template_pdf

__all__ = [
    "LABEL_FORMATS",
    "LAYERS",
    "PAPERS",
    "CutList",
    "LabelFormat",
    "Layers",
    "Paper",
    "build_cut_list",
    "buying_csv",
    "compare",
    "compare_csv",
    "compare_pdf",
    "cut_list_pages",
    "cut_list_pdf",
    "format_named",
    "format_names",
    "label_guide_pdf",
    "labels_pdf",
    "page_svg",
    "pdf_page_png",
    "pieces_csv",
    "print_test_pdf",
    "report_files",
    "saw_csv",
    "template_pdf",
    "write_plan_json",
    "write_reports",
]

_HOME = {
    "compare": "buying",
    "compare_csv": "buying",
    "compare_pdf": "buying",
    "CutList": "cutlist",
    "build_cut_list": "cutlist",
    "LAYERS": "drawings",
    "Layers": "drawings",
    "report_files": "files",
    "write_plan_json": "files",
    "write_reports": "files",
    "LABEL_FORMATS": "label_formats",
    "LabelFormat": "label_formats",
    "format_named": "label_formats",
    "format_names": "label_formats",
    "label_guide_pdf": "labels",
    "labels_pdf": "labels",
    "cut_list_pages": "pages",
    "cut_list_pdf": "pages",
    "PAPERS": "paper",
    "Paper": "paper",
    "print_test_pdf": "print_test",
    "buying_csv": "spreadsheets",
    "pieces_csv": "spreadsheets",
    "saw_csv": "spreadsheets",
    "page_svg": "svg",
    "pdf_page_png": "svg",
    "template_pdf": "templates",
}


def __getattr__(name: str) -> Any:
    home = _HOME.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{home}"), name)
