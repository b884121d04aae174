"""The test piece on the command line: its drawing and page, and keeping its result."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli_lengths import length_of
from core.atomic import write_atomically
from core.errors import InvalidRequestError
from core.project.file import load_project, save_project
from core.project.model import Project
from core.shop import Cutter, JointClass
from core.units import format_length, play_words

EXIT_DONE = 0


def run_test_piece(options: argparse.Namespace) -> int:
    """Draw the test piece (--out), keep its result (--along, --across, --slot), or both.

    Raises InvalidRequestError if neither is asked for.
    """
    project = load_project(options.project)
    told = options.along or options.across
    if options.slot and not told:
        raise InvalidRequestError(
            "A slot was measured but no fit is named",
            "--slot",
            "Say with --along or --across which joint was right.",
        )
    if not options.out and not told:
        raise InvalidRequestError(
            "Nothing to do",
            "testpiece",
            "Give --out FILE.dxf for its drawing, or --along and --across for its result.",
        )
    if told:
        project = _keep(project, options)
    if options.out:
        _write(project, options)
    return EXIT_DONE


def _write(project: Project, options: argparse.Namespace) -> None:
    from core.reports.fit_test_page import fit_test_pdf
    from core.test_pieces import make_test_piece, materials_used, write_test_piece

    only = (options.material,) if options.material else None
    cutter = _cutter(project, options)
    joint = JointClass(options.joint)
    sentences = write_test_piece(
        project, options.out, materials=only, cutter=cutter, joint_class=joint
    )
    names = only or materials_used(project)
    pieces = tuple(
        make_test_piece(project, material=name, cutter=cutter, joint_class=joint) for name in names
    )
    page = Path(options.out).with_suffix(".pdf")
    write_atomically(page, fit_test_pdf(project, pieces))
    for sentence in (*sentences, f"{page.name}: its page with room for the result, and a label."):
        print(sentence)


def _keep(project: Project, options: argparse.Namespace) -> Project:
    from core.test_pieces import (
        TestResult,
        fit_called,
        keep_result,
        make_test_piece,
        slot_to_measure,
    )

    cutter = _cutter(project, options)
    joint = JointClass(options.joint)
    piece = make_test_piece(project, material=options.material, cutter=cutter, joint_class=joint)
    unit = project.units

    def play(text: str | None) -> float | None:
        return None if text is None else fit_called(text, piece.fits_mm, unit=unit)

    result = TestResult(
        piece.material,
        cutter,
        play(options.along),
        play(options.across),
        slot_to_measure(piece).width_mm,
        length_of("--slot", options.slot, unit) if options.slot else None,
        joint,
    )
    kept = keep_result(project, result)
    save_project(kept, options.project)
    print(
        f"Kept for {piece.material} and the {format_length(cutter.diameter_mm, unit)} bit, "
        f"{joint.value}: {play_words(result.play_mm, unit)}."
    )
    if result.bit_mm is not None:
        print(f"The bit really is {format_length(result.bit_mm, unit)}.")
    return kept


def _cutter(project: Project, options: argparse.Namespace) -> Cutter:
    cutters = project.shop.machine.cutters
    if not options.cutter:
        return project.shop.machine.cutter
    wanted = length_of("--cutter", options.cutter, project.units)
    found = next((c for c in cutters if abs(c.diameter_mm - wanted) < 1e-3), None)
    if found is None:
        raise InvalidRequestError(
            f"The router has no {options.cutter} bit", "--cutter", "Add the bit in the Shop."
        )
    return found
