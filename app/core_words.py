"""Fixed words of the core that the window shows, where a translation can reach them.

The core knows no Qt and so no ``tr``. What it names once and for all (styles of seams and
their numbers, walls, table heads) is written out here, so that the translation tool finds it;
:func:`app.wording.in_words` says it in the language of the window. A test keeps the list
complete.
"""

from __future__ import annotations

from app.i18n import marked as tr


def fixed_words() -> tuple[str, ...]:
    """Every fixed word of the core that is shown."""
    return (*_styles(), *_numbers(), *_helps(), *_walls(), *_ways(), *_labels(), *_libraries())


def _styles() -> tuple[str, ...]:
    return (
        tr("Square finger"),
        tr(
            "The everyday seam: slides together flat, shoulders set the length; glue and a "
            "clamp hold it."
        ),
        tr("Dovetail"),
        tr(
            "Holds against pulling apart before the glue has set: for long tops and fronts. "
            "Drops in from the face."
        ),
        tr("Rounded tooth"),
        tr(
            "Interlocks, and the bit reaches every corner without relief: the safe choice for a "
            "seam that must hold."
        ),
        tr("Wave"),
        tr("A quiet, bit-friendly line for fronts that are seen; glue holds it, not its shape."),
        tr("Butt with straight keys"),
        tr(
            "A plain straight line on the show face; keys in the back line it up and add glue area."
        ),
        tr("Butterfly keys"),
        tr("A plain seam pulled tight and held by keys that show, or hide in the back."),
        tr("Half-lap"),
        tr("Much glue area and a plain line on both faces; one mate is cut face down."),
        tr("Your own drawn tooth."),
    )


def _numbers() -> tuple[str, ...]:
    return (
        tr("Finger width"),
        tr("Finger length"),
        tr("Between fingers"),
        tr("Round corners to the bit"),
        tr("Between tails"),
        tr("Slope 1 in"),
        tr("Radius"),
        tr("Flank turns by"),
        tr("Wave height"),
        tr("Wave length"),
        tr("Key length"),
        tr("Key width"),
        tr("Let in by"),
        tr("From key to key"),
        tr("Let in from the back"),
        tr("Width at the ends"),
        tr("Width at the seam"),
        tr("Overlap"),
        tr("Depth clearance"),
        tr("Scale"),
        tr("Between teeth"),
    )


def _helps() -> tuple[str, ...]:
    return (
        tr("Width of one finger at the seam."),
        tr("How far a finger reaches into its mate."),
        tr("Width of the board left between two fingers, at the seam."),
        tr("Both mates get corners the bit can reach, so no relief is needed."),
        tr("Width of the board left between two tails, at the seam."),
        tr("6 for softwood and plywood, 8 for hardwood (tradition, which is not uniform)."),
        tr("Of the head and of the hollows beside it."),
        tr("Beyond 90° the head is wider than the neck and holds."),
        tr("From trough to crest."),
        tr("From crest to crest."),
        tr("Across the seam, half in each mate."),
        tr("Its ends are round with half of this."),
        tr("Thickness of the key and depth of its pocket."),
        tr("Distance of keys along the seam."),
        tr("From the face that is not seen; the piece is cut lying on its show face for it."),
        tr("Widest place of the key."),
        tr("Narrowest place of the key."),
        tr("How far the mates lie over each other, across the seam."),
        tr("Room for glue between the two levels."),
        tr("1 = as drawn."),
        tr("Seam left between the bases of two teeth."),
        tr("Corners get a radius the bit can reach on both mates."),
    )


def _walls() -> tuple[str, ...]:
    return (
        tr("wall"),
        tr("round end"),
        tr("end"),
        tr("floor"),
        tr("tooth end"),
        tr("tenon end"),
        tr("shoulder"),
        tr("flank"),
    )


def _ways() -> tuple[str, ...]:
    return (
        tr("Board"),
        tr("Way"),
        tr("Sheets"),
        tr("Used"),
        tr("Net"),
        tr("Loss"),
        tr("Saw cuts"),
        tr("Blanks"),
        tr("Clampings"),
        tr("Offcut kept"),
        tr("Cost"),
        tr(
            "Used: area of the pieces by the area of the sheets. Net: by what of the sheets is "
            "not kept as an offcut. Loss: by so many points of a hundred Net lies below that of "
            "whole sheets. Every way is laid out anew for this table; the layout in use may come "
            "to other figures."
        ),
    )


def _labels() -> tuple[str, ...]:
    return (
        tr("A4, 3 × 8 of 70 × 37 mm"),
        tr("A4, 3 × 7 of 63.5 × 38.1 mm"),
        tr("A4, 2 × 4 of 105 × 74 mm"),
        tr("Letter, 3 × 10 of 2 5/8 × 1 in"),
        tr("Letter, 2 × 5 of 4 × 2 in"),
        tr("A4, cut out, 2 × 6 of 92 × 45 mm"),
        tr("Letter, cut out, 2 × 5 of 94 × 50 mm"),
    )


def _libraries() -> tuple[str, ...]:
    return (
        tr("window"),
        tr("polygons"),
        tr("numbers"),
        tr("fast kernels"),
        tr("offsets"),
        tr("DXF"),
        tr("SVG"),
        tr("PDF"),
        tr("pages on screen"),
        tr("codes on labels"),
        tr("folders"),
    )
