"""What leaves the program for the workshop: pages, labels, templates, tables and drawings."""

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
