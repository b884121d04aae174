"""Everything a maker is told about a drawing, in sentences with numbers, places and remedies."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from core.findings import Finding, Severity, counted
from core.geometry import Point, Ring
from core.outlines.attach import middle_of
from core.outlines.limits import MAX_GAP_FINDINGS, MAX_GAP_MM
from core.outlines.loops import Closure
from core.outlines.model import Feature, Role
from core.outlines.overlaps import Overlap
from core.outlines.overshoots import Trim
from core.outlines.rings import FoundRing, RingFaults
from core.outlines.roles import LayerMeaning
from core.outlines.strands import RawDrawing, Strand
from core.outlines.words import close_gap_fix, place_text, ring_middle, small_text
from core.tolerances import GAP_NOTICE_MM, GAP_SILENT_MM
from core.units import format_length

# A line whose ends are this close for its length was meant to be closed.
_NEARLY_CLOSED = 0.1
# Sizes in which boards are sold, mm; common practice.
_BOARD_SIZES = ((1220, 2440), (1250, 2500), (1525, 1525), (1525, 3050), (1220, 3050), (1830, 3660))


@dataclass
class Telling:
    """Writes findings of one file into a list; places are in mm in the panels' frame."""

    source: str
    findings: list[Finding]

    def _add(
        self,
        code: str,
        severity: Severity,
        message: str,
        at: Point | None = None,
        remedy: str = "",
        fix: str = "",
    ) -> None:
        self.findings.append(
            Finding(code, severity, message, at=at, remedy=remedy, source=self.source, fix=fix)
        )

    # --- the file ---------------------------------------------------------------------------

    def file_notes(self, raw: RawDrawing, notes: Sequence[tuple[str, str]]) -> None:
        """Oddities of the file itself."""
        for code, message in notes:
            loss = code in ("ends-early", "file-repaired")
            self._add(
                code,
                Severity.WARN if loss else Severity.NOTE,
                message,
                remedy="Count the panels; if one is missing, export the file again."
                if loss
                else "",
            )
        for note in raw.notes:
            self._add(
                note.code, Severity.WARN if note.warn else Severity.NOTE, note.message, note.at
            )
        skipped = raw.skipped.copy()
        hidden = skipped.pop("hidden", 0)
        skipped.pop("annotation", None)
        if hidden:
            self._add(
                "layer-hidden",
                Severity.NOTE,
                f"Left out: {counted(hidden, 'shape')} on layers switched off or frozen.",
                remedy="Switch the layer on in the drawing if it is to be cut.",
            )
        if skipped:
            listed = ", ".join(f"{number} × {kind}" for kind, number in sorted(skipped.items()))
            self._add(
                "kind-skipped",
                Severity.NOTE,
                f"Left out because they hold no cutting line: {listed}.",
                remedy="Turn them into lines in the drawing if they are to be cut.",
            )

    def far_out(self, origin: Point) -> None:
        """An origin was subtracted."""
        self._add(
            "far-out",
            Severity.NOTE,
            f"The drawing lies very far out; {origin[0]:.0f}, {origin[1]:.0f} mm was taken off "
            "every coordinate.",
        )

    def misread_layers(self, layers: Sequence[str]) -> None:
        """Layers whose names said not to cut, cut because there was nothing else."""
        if layers:
            listed = ", ".join(f"“{name}”" for name in layers)
            self._add(
                "layer-doubtful",
                Severity.WARN,
                f"By its name {listed} would not be cut, but nothing else would be either; it "
                "was taken as outlines to cut.",
                remedy="Check the role of the layer.",
            )

    def ignored(self, strands: Sequence[Strand]) -> None:
        """Shapes on layers of the ignore role."""
        layers = Counter(strand.layer for strand in strands)
        if layers:
            listed = ", ".join(f"“{name}” ({number})" for name, number in sorted(layers.items()))
            self._add(
                "layer-ignored",
                Severity.NOTE,
                f"Left out by the layer's role: {listed}.",
                remedy="Give the layer another role if it is to be cut.",
                fix=f"cut-layer:{next(iter(layers))}" if len(layers) == 1 else "",
            )

    def only_features(self, features: int) -> None:
        """Pockets or holes, but no panel they are cut into."""
        self._add(
            "only-features",
            Severity.WARN,
            f"The drawing shows {counted(features, 'thing')} to be cut into a panel, and no panel.",
            remedy="Read it together with the drawing that shows the panel's outline.",
        )

    def no_outlines(self, shapes: int) -> None:
        """Lines, but nothing closed."""
        whole = (
            "The one shape in the drawing never"
            if shapes == 1
            else f"None of the {shapes} shapes in the drawing"
        )
        self._add(
            "no-outlines",
            Severity.STOP,
            f"{whole} makes a closed outline to cut.",
            remedy="Close the outlines in the drawing, and check the roles of its layers.",
        )

    # --- lines ------------------------------------------------------------------------------

    def overlaps(self, overlaps: Sequence[Overlap]) -> None:
        """Lines drawn twice, one finding a layer."""
        layers: dict[str, list[Overlap]] = defaultdict(list)
        for overlap in overlaps:
            layers[overlap.layer].append(overlap)
        for layer, members in layers.items():
            total = sum(overlap.length_mm for overlap in members)
            n = len(members)
            drawn = "1 line was drawn" if n == 1 else f"{n} lines were drawn"
            self._add(
                "line-doubled",
                Severity.NOTE,
                f"On layer “{layer}” {drawn} twice, together "
                f"{format_length(total, precision=1)}; each is cut once.",
                members[0].at,
            )

    def closures(self, closures: Sequence[Closure]) -> None:
        """Gaps that were closed, each with its place; silent ones not at all."""
        told = sorted((c for c in closures if c.gap_mm > GAP_SILENT_MM), key=lambda c: -c.gap_mm)
        for closure in told[:MAX_GAP_FINDINGS]:
            small = closure.gap_mm <= GAP_NOTICE_MM
            self._add(
                "gap-closed",
                Severity.NOTE if small else Severity.WARN,
                f"A gap of {small_text(closure.gap_mm)} on layer “{closure.layer}” was closed at "
                f"{place_text(closure.at)}.",
                closure.at,
                "" if small else "Look at the corner; draw it closed if it is wrong.",
            )
        rest = told[MAX_GAP_FINDINGS:]
        if rest:
            self._add(
                "gap-closed",
                Severity.WARN,
                f"More closed gaps: {len(rest)}, of up to {small_text(rest[0].gap_mm)}.",
                rest[0].at,
            )

    def trims(self, trims: Sequence[Trim]) -> None:
        """Loose ends brought to the lines near them, each with its place."""
        told = sorted(trims, key=lambda trim: -abs(trim.length_mm))
        for trim in told[:MAX_GAP_FINDINGS]:
            size = abs(trim.length_mm)
            if size <= GAP_SILENT_MM:
                continue
            if trim.length_mm > 0:
                code, what = "overshoot-trimmed", "ran {0} past its corner at {1}; it was trimmed"
            else:
                code, what = "gap-closed", "stopped {0} short of another at {1}; it was lengthened"
            self._add(
                code,
                Severity.NOTE if size <= GAP_NOTICE_MM else Severity.WARN,
                f"A line on layer “{trim.layer}” "
                f"{what.format(small_text(size), place_text(trim.at))}.",
                trim.at,
                "" if size <= GAP_NOTICE_MM else "Look at the corner; draw it anew if it is wrong.",
            )
        rest = told[MAX_GAP_FINDINGS:]
        if rest:
            self._add(
                "overshoot-trimmed",
                Severity.WARN,
                f"More lines brought to their corners: {len(rest)}, up to "
                f"{small_text(abs(rest[0].length_mm))} too long or too short.",
                rest[0].at,
                "Look at the corners; draw them anew if they are wrong.",
            )

    def open_lines(self, chains: Sequence[Strand], cut_layers: Collection[str] = ()) -> None:
        """Lines that form no outline, shown where they end. cut_layers: with outlines on them."""

        def fix(layer: str) -> str:
            # A layer that holds panels as well cannot be left out for one stray line.
            return "leave-out" if layer in cut_layers else f"ignore-layer:{layer}"

        for chain in chains[:MAX_GAP_FINDINGS]:
            gap = math.dist(chain.start, chain.end)
            length = chain.length()
            if len(chain.rows) > 2 and gap <= _NEARLY_CLOSED * length:
                self._add(
                    "open-outline",
                    Severity.STOP,
                    f"An outline on layer “{chain.layer}” is open by {small_text(gap)} between "
                    f"{place_text(chain.end)} and {place_text(chain.start)}.",
                    chain.end,
                    "Close it in the drawing, or close gaps of this size."
                    if gap <= MAX_GAP_MM
                    else "Close it in the drawing.",
                    close_gap_fix(gap),
                )
            else:
                self._add(
                    "open-line",
                    Severity.WARN,
                    f"A line of {format_length(length, precision=1)} on layer “{chain.layer}” "
                    f"from {place_text(chain.start)} to {place_text(chain.end)} belongs to no "
                    "outline.",
                    chain.end,
                    "Join it to an outline, or leave it out.",
                    fix(chain.layer),
                )
        rest = chains[MAX_GAP_FINDINGS:]
        for layer, number in Counter(chain.layer for chain in rest).items():
            self._add(
                "open-line",
                Severity.WARN,
                f"More lines on layer “{layer}” that belong to no outline: {number}.",
                next(chain.end for chain in rest if chain.layer == layer),
                "Close them, or leave them out.",
                fix(layer),
            )

    def branches(self, points: Sequence[Point]) -> None:
        """Outlines that share an edge."""
        if points:
            listed = ", ".join(place_text(point) for point in points[:3])
            self._add(
                "line-branches",
                Severity.WARN,
                f"Three or more lines meet at {listed}"
                f"{' and elsewhere' if len(points) > 3 else ''}; the closed shapes between them "
                "were taken as outlines that share an edge.",
                points[0],
                "Check the outlines there; draw each panel closed if they are wrong.",
            )

    def touches(self, points: Sequence[Point]) -> None:
        """Outlines that share a corner."""
        if points:
            self._add(
                "corners-touch",
                Severity.NOTE,
                f"Outlines touch in a corner at {place_text(points[0])}.",
                points[0],
            )

    def stubs(self, stubs: Sequence[Strand]) -> None:
        """Scraps of line dropped because they are no longer than the gaps closed."""
        if stubs:
            self._add(
                "stub-dropped",
                Severity.NOTE,
                f"Left out: {counted(len(stubs), 'scrap')} of line no longer than a closed gap.",
                stubs[0].start,
            )

    # --- rings ------------------------------------------------------------------------------

    def faults(self, faults: RingFaults) -> None:
        """Rings that were dropped, taken apart or refused."""
        if faults.specks:
            self._add(
                "speck-dropped",
                Severity.NOTE,
                f"Left out: {counted(faults.specks, 'closed shape')} too small to cut.",
            )
        for at, layer in faults.touching:
            self._add(
                "self-touching",
                Severity.NOTE,
                f"An outline on layer “{layer}” touches itself at {place_text(at)}; it was taken "
                "apart there.",
                at,
            )
        for at, layer in faults.tidied:
            self._add(
                "outline-tidied",
                Severity.NOTE,
                f"A kink too small to cut was taken out of an outline on layer “{layer}” at "
                f"{place_text(at)}.",
                at,
            )
        for at, layer in faults.crossing:
            self._add(
                "self-crossing",
                Severity.STOP,
                f"An outline on layer “{layer}” crosses itself at {place_text(at)}, so its inside "
                "is not certain; it was left out.",
                at,
                "Redraw the line there so that it does not cross.",
            )

    def doubles(self, doubles: Sequence[tuple[FoundRing, FoundRing]]) -> None:
        """Whole outlines drawn twice: dropped on one layer, asked about otherwise."""
        for kept, dropped in doubles:
            at = ring_middle(kept.ring)
            if kept.layer == dropped.layer and kept.source == dropped.source:
                self._add(
                    "double-dropped",
                    Severity.NOTE,
                    f"The same outline stands twice on layer “{kept.layer}” at {place_text(at)}; "
                    "it is taken once.",
                    at,
                    fix="count-as-quantity",
                )
                continue
            where = (
                f"on layers “{kept.layer}” and “{dropped.layer}”"
                if kept.layer != dropped.layer
                else f"in two blocks on layer “{kept.layer}”"
            )
            self._add(
                "outline-twice",
                Severity.WARN,
                f"The same outline lies {where} at {place_text(at)}; it is taken once.",
                at,
                "If two are to be cut, count it as quantity.",
                "count-as-quantity",
            )

    def crossings(self, crossings: Sequence[tuple[FoundRing, FoundRing, Point]]) -> None:
        """Outlines that run over each other."""
        for first, second, at in crossings[:MAX_GAP_FINDINGS]:
            layers = " and ".join(f"“{name}”" for name in sorted({first.layer, second.layer}))
            self._add(
                "outlines-cross",
                Severity.STOP,
                f"Two outlines on {layers} cross at {place_text(at)}.",
                at,
                "Move one, or give its layer the role pocket if it does not go right through.",
                _as_pocket(first, second),
            )

    def hole_on_edge(self, outer: FoundRing, kept: bool) -> None:
        """A hole that touches its outline's edge."""
        at = ring_middle(outer.ring)
        if kept:
            self._add(
                "hole-on-edge",
                Severity.WARN,
                f"A hole touches the edge of the outline around {place_text(at)}; it was cut out "
                "of it, with arcs as short straight lines.",
                at,
                "Draw the notch as part of the outline.",
            )
        else:
            self._add(
                "holes-divide",
                Severity.STOP,
                f"Holes that touch divide the outline around {place_text(at)} into parts; it was "
                "left out.",
                at,
                "Draw every part as an outline of its own.",
            )

    def sheets(self, sheets: Sequence[Ring]) -> None:
        """Shapes of the sheet role."""
        if sheets:
            self._add(
                "sheet-outline",
                Severity.NOTE,
                f"Taken as no panel: {counted(len(sheets), 'outline')} on sheet layers.",
                ring_middle(sheets[0]),
            )

    def sheet_like(self, panels: Sequence[tuple[FoundRing, list[FoundRing]]]) -> None:
        """A plain rectangle of a board's size with holes as large as panels."""
        for outer, holes in panels:
            x1, y1, x2, y2 = outer.ring.bounds
            size = sorted((x2 - x1, y2 - y1))
            box = len(outer.ring.vertices) == 4 and not outer.ring.has_arcs
            sold = any(abs(size[0] - a) <= 15 and abs(size[1] - b) <= 15 for a, b in _BOARD_SIZES)
            if box and sold and len(holes) > 1:
                self._add(
                    "may-be-sheet",
                    Severity.WARN,
                    f"The rectangle on layer “{outer.layer}” has the size of a board and "
                    f"{len(holes)} outlines inside it, which were taken as its holes.",
                    (x1, y1),
                    "If it only shows the sheet, give it a layer with the role sheet.",
                    "treat-as-sheet",
                )

    # --- features ---------------------------------------------------------------------------

    def depths(self, meanings: Mapping[str, LayerMeaning], features: Sequence[Feature]) -> None:
        """What was read from layers' names, and where a depth is missing."""
        for layer in dict.fromkeys(feature.layer for feature in features):
            meaning = meanings[layer]
            at = middle_of(next(f for f in features if f.layer == layer))
            if meaning.depth_mm is not None:
                face = " from the back" if meaning.face.value == "back" else ""
                self._add(
                    "depth-read",
                    Severity.NOTE,
                    f"Layer “{layer}” was read as {meaning.role.value}, "
                    f"{format_length(meaning.depth_mm)} deep{face}.",
                    at,
                )
            elif meaning.role is not Role.DRILL:
                self._add(
                    "depth-missing",
                    Severity.WARN,
                    f"Layer “{layer}” was read as {meaning.role.value}, but nothing says how deep.",
                    at,
                    f"Name the layer with its depth, like “{meaning.role.value} 6”, or set it.",
                    f"set-depth:{layer}",
                )

    def open_features(self, lines: Sequence[Strand], role: Role) -> None:
        """Open lines on layers that need closed ones."""
        for line in lines[:MAX_GAP_FINDINGS]:
            self._add(
                "open-feature",
                Severity.WARN,
                f"A line on layer “{line.layer}” is open at {place_text(line.end)}; a {role.value} "
                "needs a closed one, so it was left out.",
                line.end,
                "Close it in the drawing.",
                close_gap_fix(math.dist(line.start, line.end)),
            )

    def not_round(self, ring: FoundRing) -> None:
        """A shape on a drill layer that no drill makes."""
        at = ring_middle(ring.ring)
        self._add(
            "drill-not-round",
            Severity.WARN,
            f"A shape on drill layer “{ring.layer}” at {place_text(at)} is not round and was left "
            "out.",
            at,
            "Draw a circle or a point there, or take the layer as a pocket.",
            f"as-pocket:{ring.layer}",
        )

    def strays(self, features: Sequence[Feature]) -> None:
        """Features on no outline."""
        for feature in features[:MAX_GAP_FINDINGS]:
            at = middle_of(feature)
            self._add(
                "feature-outside",
                Severity.WARN,
                f"A {feature.kind.value} on layer “{feature.layer}” at {place_text(at)} lies on no "
                "panel and was left out.",
                at,
                "Move it onto its panel, or check the panel's outline.",
            )


def _as_pocket(first: FoundRing, second: FoundRing) -> str:
    """The fix that takes the smaller of two crossing outlines as a pocket."""
    if first.layer == second.layer:
        return ""
    smaller = min(first, second, key=lambda ring: ring.polygon.area)
    return f"as-pocket:{smaller.layer}"
