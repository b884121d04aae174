"""Reading a drawing: the whole way from a path to outlines, readable top to bottom."""

from __future__ import annotations

import gc
import math
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from core.errors import UnreadableDrawing
from core.findings import sort_findings
from core.geometry import Point
from core.outlines.limits import MAX_COORDINATE, MAX_GAP_MM
from core.outlines.model import ImportResult, LayerRead
from core.outlines.roles import (
    DEFAULT_RULES,
    FEATURE_ROLES,
    Choice,
    LayerMeaning,
    Rule,
    decided,
    with_something_to_cut,
)
from core.outlines.sniff import read_bytes
from core.outlines.strands import RawDrawing, Strand
from core.outlines.taken_unit import (
    TakenUnit,
    decide_unit,
    small_parts_doubt,
    unit_findings,
    unit_given,
)
from core.outlines.telling import Telling
from core.outlines.together import OF_FILE, in_mm, scaled_notes, together
from core.outlines.understand import Understood, round_ring, understand
from core.tolerances import (
    CURVE_SAGITTA_MM,
    FAR_OUT_MM,
    GAP_ASK_MM,
    SMALLEST_PLAUSIBLE_MM,
)

Progress = Callable[[float], object]
Stop = Callable[[], bool]


def read_outlines(
    path: str | os.PathLike[str],
    units: str | None = None,
    *,
    also: Sequence[str | os.PathLike[str]] = (),
    roles: Mapping[str, Choice] | None = None,
    rules: Iterable[Rule] = DEFAULT_RULES,
    gap_tol_mm: float = GAP_ASK_MM,
    sheets_at: Sequence[Point] = (),
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> ImportResult:
    """The panel outlines in a DXF or SVG drawing, in mm, with everything noticed on the way.

    path: the file; what it is is told from its bytes. units: the unit its numbers are in, by
    any name; None takes what the file declares if that gives panels of a believable size,
    else a guess that a finding tells. An SVG that states a physical size keeps it.
    also: more files of the same drawing, read on top of the first as one: a panel's edges and
    pockets may be spread over them. Their layers are named by :func:`joined_layer`; numbers are
    in the first file's unit where a file declares none.
    roles: the maker's decisions, layer → role or more (letter case ignored); other layers go
    by rules. gap_tol_mm: widest gap between loose ends that is closed, 0 to 5.
    sheets_at: lower left corners of outlines that only show a sheet and are no panels.
    progress: called with 0…1. stop: reading ends with UnreadableDrawing once it is true.

    Raises UnreadableDrawing when no geometry can be had, BadLengthError for an unknown unit.
    The same file and options give the same result.
    """
    given = unit_given(units) if units is not None else None
    if not 0.0 <= gap_tol_mm <= MAX_GAP_MM:
        raise ValueError(f"gap_tol_mm must lie between 0 and {MAX_GAP_MM:g}, not {gap_tol_mm}")
    watch = _Watch(progress, stop, str(path))
    files = [_File(*read_bytes(one), Path(one)) for one in (path, *also)]
    watch.at(0.05)
    try:
        with _uncollected():
            return _Job(files, roles, tuple(rules), gap_tol_mm, watch, tuple(sheets_at)).run(given)
    except UnreadableDrawing as error:
        if error.where:
            raise
        raise UnreadableDrawing(error.what, str(path), error.remedy) from error
    except RecursionError as error:
        raise UnreadableDrawing(
            "The drawing's groups or blocks are nested too deeply",
            str(path),
            "Explode them in the drawing and export it again.",
        ) from error


@contextmanager
def _uncollected() -> Iterator[None]:
    """Nothing is collected meanwhile: a drawing makes a great many small values that all stay.

    It saves a quarter of the time of a large one.
    """
    if not gc.isenabled():
        yield
        return
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def read_strands(path: Path) -> Callable[[float], RawDrawing]:
    """Parse a file; the answer gives its strands, flattened with a sagitta in drawing units.

    Raises UnreadableDrawing.
    """
    return _File(*read_bytes(path), path).load(_Watch(None, None, str(path)), [])


@dataclass
class _Watch:
    """Passes progress on and stops when asked to."""

    progress: Progress | None
    stop: Stop | None
    where: str
    share: float = 0.0

    def at(self, share: float) -> None:
        self.share = max(self.share, share)
        if self.progress is not None:
            self.progress(self.share)
        self.tick()

    def tick(self) -> None:
        if self.stop is not None and self.stop():
            raise UnreadableDrawing("Reading was stopped", self.where, "Read the file again.")


@dataclass
class _File:
    """One file: its bytes, "dxf" or "svg", and where it is."""

    data: bytes
    kind: str
    path: Path

    def load(self, watch: _Watch, notes: list[tuple[str, str]]) -> Callable[[float], RawDrawing]:
        """Parse once; the answer flattens to strands with a given sagitta, drawing units."""
        if self.kind == "svg":
            from core.outlines.svg_shapes import load_svg

            svg = load_svg(self.data, str(self.path))
            notes += svg.notes
            return lambda sagitta: svg.strands(sagitta, watch.tick)
        from core.outlines.dxf_load import load_dxf
        from core.outlines.dxf_shapes import dxf_strands

        # Lines are about half of the parsing; entities are made of them in one go.
        begun = watch.share
        loaded = load_dxf(self.data, str(self.path), lambda share: watch.at(begun + 0.15 * share))
        notes += loaded.notes
        return lambda sagitta: dxf_strands(
            loaded.doc, sagitta=sagitta, where=str(self.path), tick=watch.tick
        )


@dataclass
class _Job:
    """One reading of one drawing, which may be spread over several files."""

    files: Sequence[_File]
    roles: Mapping[str, Choice] | None
    rules: tuple[Rule, ...]
    gap_mm: float
    watch: _Watch
    sheets_at: tuple[Point, ...] = ()
    notes: list[tuple[str, str]] = field(default_factory=list)

    @property
    def path(self) -> Path:
        """The first file."""
        return self.files[0].path

    def run(self, given: TakenUnit | None) -> ImportResult:
        source = self._load()
        # Curves are flattened in drawing units, so the scale is needed before it is known:
        # guess from the plain shapes, and read once more if the outlines say otherwise.
        raw = source(CURVE_SAGITTA_MM)
        self._check_not_empty(raw)
        if self.files[0].kind == "svg" and raw.unit_mm is not None and not raw.unit_is_pixel:
            given = TakenUnit(raw.unit or "mm", raw.unit_mm, "declared")
        taken = given or first_guess(raw)
        if taken.mm != 1.0 and raw.curved:
            raw = source(CURVE_SAGITTA_MM / taken.mm)
        self.watch.at(0.6)
        understood, origin, meanings = self._understand(raw, taken)
        if given is None:
            side = max(understood.largest_mm) / taken.mm or _sizes(raw.strands)[1]
            narrow = min(_hole_widths(understood), default=0.0) / taken.mm
            better = decide_unit(raw, side, narrow)
            if better.mm != taken.mm:
                if raw.curved:
                    raw = source(CURVE_SAGITTA_MM / better.mm)
                understood, origin, meanings = self._understand(raw, better)
            taken = better
        self.watch.at(0.95)
        findings = understood.findings
        tell = Telling(self.path.name, findings)
        tell.file_notes(scaled_notes(raw, taken.mm, origin), self.notes)
        if origin != (0.0, 0.0):
            tell.far_out(origin)
        if understood.outlines:
            size = understood.largest_mm
            findings += unit_findings(taken, raw, size, self.path.name)
            findings += small_parts_doubt(taken, _hole_widths(understood), size, self.path.name)
        elif understood.strays and not understood.open_lines:
            tell.only_features(len(understood.strays))
        else:
            tell.no_outlines(len(raw.strands))
        self.watch.at(1.0)
        return ImportResult(
            outlines=tuple(understood.outlines),
            findings=sort_findings(findings),
            units=taken.name,
            units_guessed=taken.guessed,
            origin_mm=origin,
            scale_mm=taken.mm,
            layers=tuple((name, meaning.role) for name, meaning in meanings.items()),
            sheets=tuple(understood.sheets),
            open_lines=tuple(understood.open_lines),
            strays=tuple(understood.strays),
            layers_read=tuple(
                LayerRead(name, m.role, m.depth_mm, m.face, m.diameter_mm)
                for name, m in meanings.items()
            ),
        )

    def _load(self) -> Callable[[float], RawDrawing]:
        """Parse every file; the answer flattens them to the strands of one drawing."""
        sources = []
        for number, file in enumerate(self.files, start=1):
            sources.append(file.load(self.watch, self.notes))
            self.watch.at(0.05 + 0.35 * number / len(self.files))
        if len(sources) == 1:
            return sources[0]
        names = [file.path.name for file in self.files]
        return lambda sagitta: together(sources, names, sagitta)

    def _check_not_empty(self, raw: RawDrawing) -> None:
        if raw.strands:
            return
        counted = dict(raw.skipped)
        if raw.texts:
            counted["text"] = len(raw.texts)
        if raw.points:
            counted["point"] = len(raw.points)
        held = ", ".join(f"{number} × {kind}" for kind, number in sorted(counted.items()))
        paper = next((note.message for note in raw.notes if note.code == "paper-space"), "")
        told = " ".join(message for _, message in self.notes)
        what = (
            f"There is no line to cut in the drawing: it holds {held}."
            if held
            else "There is no line to cut in the drawing: it holds no shapes."
        )
        raise UnreadableDrawing(
            " ".join(text for text in (what, paper, told) if text),
            str(self.path),
            "Draw the panels' outlines as lines, arcs or polylines in model space.",
        )

    def _understand(
        self, raw: RawDrawing, taken: TakenUnit
    ) -> tuple[Understood, Point, dict[str, LayerMeaning]]:
        """Strands to mm, near the origin, and understood."""
        if _sizes(raw.strands)[2] * taken.mm > MAX_COORDINATE:
            raise UnreadableDrawing(
                f"The numbers are too large to be {taken.name}",
                str(self.path),
                "Delete what lies far outside, or say which unit the drawing is in.",
            )
        origin = _far_origin(raw.strands, taken.mm)
        strands, points, texts = in_mm(raw, taken.mm, origin)
        if raw.curved:
            # Here, not above: its kernel need not be loaded for drawings without curves.
            from core.outlines.curves import with_arcs

            strands = [with_arcs(strand) for strand in strands]
        layers = dict.fromkeys([s.layer for s in strands] + [p.layer for p in points])
        unit = taken.name if taken.name in ("mm", "cm", "m", "in", "ft", "thou") else "mm"
        meanings, misread = with_something_to_cut(self._meanings(layers, unit), self.roles)
        understood = understand(
            strands,
            points,
            texts,
            meanings,
            gap_mm=self.gap_mm,
            sheets_at=self.sheets_at,
            stem=self.path.stem or "panel",
            source=self.path.name,
            tick=self.watch.tick,
        )
        Telling(self.path.name, understood.findings).misread_layers(misread)
        return understood, origin, meanings

    def _meanings(self, layers: Iterable[str], unit: str) -> dict[str, LayerMeaning]:
        """What every layer means: of a joined file by its own name, then by its file's."""
        out = decided(layers, self.roles, unit=unit, rules=self.rules)
        own = {name.lower() for name in self.roles or {}}
        for layer in out:
            plain, joint, file_name = layer.rpartition(OF_FILE)
            if not joint or layer.lower() in own:
                continue
            read = decided([plain], None, unit=unit, rules=self.rules)[plain]
            if not read.known:
                by_file = decided([file_name], None, unit=unit, rules=self.rules)[file_name]
                if by_file.role in FEATURE_ROLES:
                    read = by_file
            out[layer] = read
        return out


def first_guess(raw: RawDrawing) -> TakenUnit:
    """The unit to try first: by closed shapes if there are any, else as declared."""
    closed, single, whole = _sizes(raw.strands)
    if closed:
        return decide_unit(raw, closed)
    # Loose lines may be short chords of anything; the outlines they make decide later.
    first = decide_unit(raw, 0.0)
    if SMALLEST_PLAUSIBLE_MM <= whole * first.mm <= FAR_OUT_MM:
        return first
    return decide_unit(raw, single)


def _sizes(strands: Iterable[Strand]) -> tuple[float, float, float]:
    """Longest side of the largest closed strand, of the largest strand, and of everything."""
    closed, single = 0.0, 0.0
    left, low, right, high = math.inf, math.inf, -math.inf, -math.inf
    for strand in strands:
        xs = [row[0] for row in strand.rows]
        ys = [row[1] for row in strand.rows]
        x1, x2, y1, y2 = min(xs), max(xs), min(ys), max(ys)
        size = max(x2 - x1, y2 - y1)
        single = max(single, size)
        if strand.closed:
            closed = max(closed, size)
        left, low, right, high = min(left, x1), min(low, y1), max(right, x2), max(high, y2)
    return closed, single, max(right - left, high - low, 0.0)


def _far_origin(strands: Iterable[Strand], scale_mm: float) -> Point:
    """Whole mm to subtract when the drawing lies beyond FAR_OUT_MM, else (0, 0)."""
    xs = [row[0] * scale_mm for strand in strands for row in strand.rows]
    ys = [row[1] * scale_mm for strand in strands for row in strand.rows]
    if max(map(abs, xs)) <= FAR_OUT_MM and max(map(abs, ys)) <= FAR_OUT_MM:
        return 0.0, 0.0
    return float(math.floor(min(xs))), float(math.floor(min(ys)))


def _hole_widths(understood: Understood) -> list[float]:
    """Diameters and widths of everything cut into the panels, mm."""
    widths = []
    for outline in understood.outlines:
        for hole in outline.region.holes:
            circle = round_ring(hole)
            x1, y1, x2, y2 = hole.bounds
            widths.append(circle[1] if circle else min(x2 - x1, y2 - y1))
        widths += [f.diameter_mm for f in outline.features if f.diameter_mm]
    return widths
