"""Sentences of the core for the translation tool, written by app/wording/gather.py.

No hand edits: what is gathered next takes its place.

words: places that hold words or sentences of this table again. number: places for a number.
list: places for values with words of JOINTS between.
"""

from __future__ import annotations

from app.i18n import marked as tr
from app.wording.match import said

JOINTS = (
    tr(" and "),
    tr(" or "),
    tr(", "),
    tr("; "),
)

SENTENCES = (
    # core.atomic
    said(tr("The file could not be written ({strerror})")),
    said(tr("Nothing was changed. Free some space or choose another folder, then save again.")),
    # core.bed.upright
    said(tr('"{panel}" cannot be clamped upright for its ends: {wrong}'), words="wrong"),
    said(tr("Cut its ends in another way, or correct the limits in the Shop.")),
    said(tr('"{panel}" has joints on its ends, and it is not known what can be clamped upright')),
    said(tr("Enter the longest, widest and thickest board in the Shop, or lay it flat.")),
    said(tr('"{panel}": {panel2}'), words="panel2"),
    said(tr("it is {is} mm long, {most} mm is the most"), number="is most"),
    said(tr("it is {is} mm wide, {most} mm is the most"), number="is most"),
    said(tr("it is {is} mm thick, {most} mm is the most"), number="is most"),
    said(tr("its teeth are {ends} mm deep and the bit cuts {reach} mm"), number="ends reach"),
    said(
        tr(
            "clamp it upright, show face towards you, one edge against the stop; seen from "
            "above its end is {wide} × {thick} mm and the teeth go {ends} mm down from it"
        ),
        number="wide thick ends",
    ),
    said(
        tr(
            "for the second end turn it end over end so that the show face stays towards you: "
            "the edge that was at the stop is then away from it, so start the teeth from the "
            "other edge"
        )
    ),
    # core.breakdown.blanks
    said(tr("Feed direction is {feed}")),
    said(tr("planer")),
    said(tr('Give "x", "y" or "either".')),
    said(tr("Mass, thickness and density must be above 0")),
    said(
        tr("{max_mass} kg, {thickness} mm, {density_kg_m3} kg/m³"),
        number="max_mass thickness density_kg_m3",
    ),
    said(tr("Give the board's measured thickness and its density.")),
    said(tr("Sheet and table must be larger than 0, kerf, trim and least side not negative")),
    said(
        tr("sheet {sheet_w} × {sheet_h} mm, table {table} × {table2} mm"),
        number="sheet_w sheet_h table table2",
    ),
    said(tr("Correct the sizes.")),
    # core.breakdown.freeing
    said(tr("Rectangle is empty or not on the sheet")),
    said(tr("Move it onto the sheet.")),
    said(tr("Rectangles cannot be freed by through cuts")),
    said(
        tr("{rects} rectangles on a sheet of {sheet_w} × {sheet_h} mm"),
        number="rects sheet_w sheet_h",
    ),
    said(
        tr("Place them so that straight cuts {kerf} mm wide can part them one by one."),
        number="kerf",
    ),
    # core.breakdown.rectangles
    said(tr("The kerf is {length} mm"), number="length"),
    said(tr("The edge trim is {length} mm"), number="length"),
    said(tr("The time allowed is {seconds} s"), number="seconds"),
    said(tr("The steps allowed are {saw_steps}")),
    said(tr("Name is used twice")),
    said(tr("Size is {width} × {height} mm"), number="width height"),
    said(tr("Quantity is {quantity}")),
    said(tr("Value is {worth}")),
    said(tr("Cost is {worth}")),
    said(tr("As many parts as fit on as many sheets as needed has no end")),
    said(tr("Give a length of 0 mm or more.")),
    said(tr("Allow 0 s or more.")),
    said(tr("Allow 0 or more.")),
    said(tr("Rename one.")),
    said(tr("Give a width and a height above 0 mm.")),
    said(tr("Give 0 or more, or leave it open.")),
    said(tr("Give 0 or more.")),
    said(tr("Limit the sheets, or say how many parts are wanted.")),
    said(tr("No room left for it on the {done} sheets planned"), number="done"),
    said(tr("There is no sheet to saw it from")),
    said(
        tr(
            "{width} × {height} mm fits no sheet; the largest is {width2} × {height2} mm less "
            "{trim} mm trimmed all round"
        ),
        number="width height width2 height2 trim",
    ),
    said(
        tr("{width} × {height} mm fits no sheet; the largest is {width2} × {height2} mm"),
        number="width height width2 height2",
    ),
    said(
        tr(
            "{width} × {height} mm fits no sheet and may not turn; the largest is {width2} × "
            "{height2} mm less {trim} mm trimmed all round"
        ),
        number="width height width2 height2 trim",
    ),
    said(
        tr(
            "{width} × {height} mm fits no sheet and may not turn; the largest is {width2} × "
            "{height2} mm"
        ),
        number="width height width2 height2",
    ),
    # core.breakdown.replay
    said(tr("Cut is neither level nor upright")),
    said(tr("cut {order} from ({x1}, {y1}) to ({x2}, {y2})"), number="order x1 y1 x2 y2"),
    said(tr("Cut is not straight across one part")),
    # core.breakdown.steps
    said(tr("Area, thickness and density cannot be negative")),
    said(
        tr("{area} mm², {thickness} mm, {density_kg_m3} kg/m³"),
        number="area thickness density_kg_m3",
    ),
    said(tr("Correct the board.")),
    said(tr("The cuts do not free {name}")),
    said(
        tr("{target} × {target2} mm at ({target3}, {target4})"),
        number="target target2 target3 target4",
    ),
    said(tr("Take targets and cuts from the same plan.")),
    # core.cutting
    said(tr("The piece's outline would cross itself ({polygon})")),
    said(tr("Move the seam, or take smaller teeth.")),
    # core.geometry.path
    said(
        tr("An arc of radius {radius} mm is too small to move by {left} mm"), number="radius left"
    ),
    said(tr("centre ({x}, {y})"), number="x y"),
    said(tr("Make the arc larger or the fit smaller.")),
    said(tr("An edge has no length")),
    said(tr("A path has no length")),
    said(tr("The corners lie too close together to be rounded")),
    said(tr("near ({points}, {points2})"), number="points points2"),
    said(tr("Take a smaller radius.")),
    said(tr("Two edges of a seam cannot be moved apart")),
    said(tr("Two edges of a seam no longer meet once the fit is taken off")),
    said(tr("Make the fit smaller or the arcs larger.")),
    said(tr("A corner cannot be rounded to {radius} mm"), number="radius"),
    # core.geometry.ring
    said(tr("A coordinate is not a finite number")),
    said(tr("An outline needs at least three corners or an arc")),
    # core.joints.access
    said(tr("An inside corner keeps a radius of {d} mm; {area} mm² stay uncut"), number="d area"),
    said(tr("Square it by hand, or give it relief if a corner must enter.")),
    said(
        tr("A round hole of {largest_bit} mm is smaller than the {d} mm bit: it is drilled"),
        number="d",
    ),
    said(tr("Drill it, or take a bit of {largest_bit} mm or less.")),
    said(
        tr("A slot is {largest_bit} mm wide; the {d} mm bit does not get in and leaves {area} mm²"),
        number="d area",
    ),
    said(tr("Take a bit of {largest_bit} mm or less, or widen the slot.")),
    said(
        tr("An inside curve is too tight for the {d} mm bit, which leaves {area} mm²"),
        number="d area",
    ),
    said(tr("Take a bit of {largest_bit} mm or less, or ease the curve.")),
    # core.joints.bits
    said(tr("{piece}: an inside curve is too tight for the {main} bit, which leaves {area} uncut")),
    said(tr("Take a bit of {bit} or less, or ease the curve.")),
    said(
        tr(
            "{piece}: a round place of {bit} is smaller than the {main} bit, which leaves "
            "{area} uncut"
        )
    ),
    said(tr("Take a bit of {bit} or less, or drill it.")),
    said(
        tr(
            "{piece}: a place {bit} wide is too narrow for the {main} bit, which leaves {area} "
            "uncut"
        )
    ),
    said(tr("Add a bit of {bit} or less in the Shop, or widen it.")),
    said(tr("{piece} needs the {diameter} bit too: the {diameter2} bit leaves {area} in 1 place")),
    said(
        tr(
            "{piece} needs the {diameter} bit too: the {diameter2} bit leaves {area} in "
            "{places} places"
        ),
        number="places",
    ),
    said(tr("It is listed with the bits of the clamping.")),
    said(tr("{piece}: the {diameter} bit cuts {cutting_length} deep, {piece2} asks for {depth}")),
    said(tr("Take a longer bit, or correct its cutting length in the Shop.")),
    said(tr("{piece}: an inside corner keeps a radius of {radius}; {corners} stay uncut")),
    said(
        tr("{piece}: {corners} inside corners keep a radius of {radius}; {corners2} stay uncut"),
        number="corners",
    ),
    said(tr("Square them by hand, or give them relief if a mate's corner must enter.")),
    # core.joints.curved
    said(
        tr("A rounded tooth of radius {radius} mm is too tight for the {diameter} mm bit"),
        number="radius diameter",
    ),
    said(
        tr("A wave of radius {radius} mm is too tight for the {diameter} mm bit"),
        number="radius diameter",
    ),
    said(tr("Take at least {least} mm, or a thinner bit."), number="least"),
    said(tr("The neck would be {neck} mm, less than the bit"), number="neck"),
    said(tr("Take a larger radius or a smaller angle.")),
    said(tr("A wave {height} high and {length} long would overhang"), number="height length"),
    said(tr("Make it at least {height} mm long, or take the rounded tooth."), number="height"),
    said(tr("drops in from the face")),
    said(tr("more turn or a larger radius if it is to hold well")),
    said(tr("slides together in the plane of the board")),
    # core.joints.drawn
    said(tr("The tooth is closed and has no straight side to lie on the seam")),
    said(tr('tooth "{stem}"')),
    said(tr('tooth "tooth"')),
    said(tr("Leave the side at the seam open.")),
    said(tr("Its line touches itself. Draw it without touching.")),
    # core.joints.half_lap
    said(tr("The overlap is narrower than the bit")),
    said(tr("Make it wider or take a thinner bit.")),
    said(tr("laid over each other")),
    said(tr("one mate pocketed from its back, lying face down")),
    said(tr("board enough for {lap} mm more on each piece"), number="lap"),
    # core.joints.keyed
    said(
        tr("A key let in by {v} mm goes right through a board of {thickness} mm"),
        number="v thickness",
    ),
    said(tr("Let it in less deep.")),
    said(tr("The keys stand too close together")),
    said(tr("Leave at least {x2} mm from key to key."), number="x2"),
    said(
        tr("A straight key {v} wide and {v2} long cannot be cut with the {diameter} mm bit"),
        number="v v2 diameter",
    ),
    said(tr("Make it at least {context} wide, and longer than wide."), number="context"),
    said(tr("The butterfly is hardly wider at its ends than at its waist and would not hold")),
    said(tr("Make the ends at least {waist} mm wide."), number="waist"),
    said(tr("pushed together flat, keys dropped in")),
    said(tr("pockets {depth} mm deep from the back: cut with the show face down"), number="depth"),
    said(tr("pockets {depth} mm deep from the show face"), number="depth"),
    said(tr("about {per_metre} keys a metre, grain along the key"), number="per_metre"),
    # core.joints.own
    said(
        tr(
            '"{title}" has an arc of radius {radius} mm; the {diameter} mm bit needs {least} '
            "mm on both mates"
        ),
        words="title",
        number="radius diameter least",
    ),
    said(tr("Enlarge the tooth or take a thinner bit.")),
    said(
        tr('"{title}" has {path} corners the bit cannot cut sharp; they get relief'),
        words="title",
        number="path",
    ),
    said(tr("Round them to the bit.")),
    said(
        tr(
            '"{title}" can be pulled apart in the plane of the board: its undercut is {undercut} mm'
        ),
        words="title",
        number="undercut",
    ),
    said(tr("Glue it, or draw the head wider than the neck.")),
    said(
        tr('The narrowest place of "{title}" is {neck} mm, less than the bit'),
        words="title",
        number="neck",
    ),
    said(tr("Draw the neck wider, or space the teeth further apart.")),
    said(tr("A tooth needs more than one point")),
    said(tr("The tooth is closed: its ends meet")),
    said(tr("The tooth crosses itself")),
    said(tr("Draw it without a crossing.")),
    said(tr("The tooth is flat")),
    said(tr("Draw it at least 0.5 mm high.")),
    said(tr("slides together flat")),
    said(tr("relief at the inside corners, or corners rounded to the bit")),
    # core.joints.profile
    said(tr("Teeth overlap along a seam")),
    said(tr("at {station} mm"), number="station"),
    # core.joints.relief
    said(tr("There is no room for a relief")),
    said(tr("Take a thinner bit, wider teeth or rounded corners.")),
    said(tr("Two reliefs run into each other")),
    # core.joints.square
    said(
        tr(
            "Corners of {rounding} mm do not fit on a tooth {width} wide, {depth} long and "
            "{spacing} apart"
        ),
        number="rounding width depth spacing",
    ),
    said(tr("Make each at least {take} mm, or take a thinner bit."), number="take"),
    said(tr("The board between two dovetails would be narrower than half the bit")),
    said(tr("Space them wider, make them shorter or the slope steeper.")),
    # core.joints.style
    said(tr('"{key}" is no parameter of the {title} seam'), words="title"),
    said(tr("It knows: {known}."), list="known"),
    said(
        tr("{label} {value} is out of range for the {title} seam"),
        words="label title",
        number="value",
    ),
    said(tr("Take {low} to {high} {unit}."), number="low high"),
    said(tr('There is no seam style "{name}"')),
    said(tr("Known: {styles}."), list="styles"),
    # core.layout.assemble
    said(tr("Sheet {number}: {what}"), words="what"),
    said(
        tr(
            "Sheet {number}: blank {letter} is too wide or too short for the planer, which "
            "takes {widest} mm by {shortest} mm or more"
        ),
        number="widest shortest",
    ),
    said(
        tr("Blank {letter} of sheet {number} is {area} times as heavy as one person is to lift"),
        number="area",
    ),
    said(tr("Sheet {number}: {value} and {value2} overlap")),
    said(tr("Plan it again.")),
    said(tr("Surface it on the bed, held by suction or edge stops with no clamp on top.")),
    said(tr("Get help, or split its pieces further.")),
    said(tr("Let the sheet be broken down again.")),
    said(tr("Plan the sheet again.")),
    # core.layout.checks
    said(
        tr(
            "{pieces_by_id} lies across a saw cut, in a sawn edge's margin, beyond the bit or "
            "on a spot that must not be used"
        )
    ),
    said(tr("Move the piece, or nest again.")),
    said(tr("{piece} lies at {turn}°, against its grain"), number="turn"),
    said(tr("Turn it back, or set its grain to free.")),
    said(tr("{piece} lies face down but may not be mirrored")),
    said(tr("Turn it over, or allow it to be cut face down.")),
    # core.layout.compare
    said(tr("{material}, rough-cut blanks: {text}"), words="text"),
    said(tr("{material}, whole sheets: {text}"), words="text"),
    said(tr("{material}, pushed through: {text}"), words="text"),
    said(tr("rough-cut blanks")),
    said(tr("whole sheets")),
    said(tr("pushed through")),
    said(tr("The bed has no open ends.")),
    said(tr("For comparison only: a sheet of {width} does not lie on the table of {table}.")),
    said(tr("No blank of a sheet of {width} goes onto the table of {table}.")),
    said(tr("A full sheet is heavier than one person is to lift: get help.")),
    # core.layout.setups
    said(
        tr("Bought {raw} mm thick: plane it to {thickness} mm and measure it before it is cut."),
        number="raw thickness",
    ),
    said(
        tr(
            "Too large or too short for the planer ({widest} mm wide): surface it here on the "
            "bed, held by suction or edge stops with no clamp on top."
        ),
        number="widest",
    ),
    said(
        tr("{snipe} mm at each end may be sniped by the planer; nothing is cut there."),
        number="snipe",
    ),
    said(tr("{text}: {rows} ({value} tabs)."), words="text rows"),
    said(tr("{text}: {rows}."), words="text rows"),
    said(
        tr(
            "{paired} of the tabs stand opposite a tab of the next piece and tie the two "
            "together: in so narrow a gap a tab of one alone would be cut through. Make all of "
            "them where they are marked."
        )
    ),
    said(
        tr(
            "1 bit of waste shut in between the pieces, too small to hold: mill away whole, "
            "before the outlines."
        )
    ),
    said(
        tr(
            "{milled} bits of waste shut in between the pieces, too small to hold: mill away "
            "whole, before the outlines."
        )
    ),
    said(
        tr(
            "1 part comes of waste shut in between the pieces, too small to hold: mill away "
            "whole, before the outlines."
        )
    ),
    said(
        tr(
            "{adrift} parts come of waste shut in between the pieces, too small to hold: mill "
            "away whole, before the outlines."
        )
    ),
    said(
        tr(
            "Mind: of the waste between the pieces 1 bit free, with no room for tabs, and can "
            "be thrown. Mill away whole first, or leave a skin."
        )
    ),
    said(
        tr(
            "Mind: of the waste between the pieces {milled} bits free, with no room for tabs, "
            "and can be thrown. Mill away whole first, or leave a skin."
        )
    ),
    said(
        tr(
            "Mind: of the waste between the pieces 1 part comes free, with no room for tabs, "
            "and can be thrown. Mill away whole first, or leave a skin."
        )
    ),
    said(
        tr(
            "Mind: of the waste between the pieces {adrift} parts come free, with no room for "
            "tabs, and can be thrown. Mill away whole first, or leave a skin."
        )
    ),
    said(
        tr(
            "Mind: no tabs hold {names} and more here, for the cuts round the next pieces go "
            "through them: a piece that comes loose is thrown. Lay the pieces {apart} mm (two "
            "bits) apart, or hold them by a skin or suction."
        ),
        number="apart",
        list="names",
    ),
    said(
        tr(
            "Mind: no tabs hold {names} here, for the cuts round the next pieces go through "
            "them: a piece that comes loose is thrown. Lay the pieces {apart} mm (two bits) "
            "apart, or hold them by a skin or suction."
        ),
        number="apart",
        list="names",
    ),
    said(
        tr(
            "The offcut you keep can be screwed down at the place marked, {clear} mm or more "
            "from every path of the bit."
        ),
        number="clear",
    ),
    said(
        tr(
            "The waste can be screwed down at the place marked, {clear} mm or more from every "
            "path of the bit."
        ),
        number="clear",
    ),
    said(
        tr(
            "The offcut you keep can be screwed down at the {screws} places marked ({screws2} "
            "of them in the offcut you keep), each {clear} mm or more from every path of the "
            "bit."
        ),
        number="screws clear",
    ),
    said(
        tr(
            "The offcut you keep can be screwed down at the {screws} places marked, each "
            "{clear} mm or more from every path of the bit."
        ),
        number="screws clear",
    ),
    said(
        tr(
            "The waste can be screwed down at the {screws} places marked ({screws2} of them in "
            "the offcut you keep), each {clear} mm or more from every path of the bit."
        ),
        number="screws clear",
    ),
    said(
        tr(
            "The waste can be screwed down at the {screws} places marked, each {clear} mm or "
            "more from every path of the bit."
        ),
        number="screws clear",
    ),
    said(
        tr(
            "No waste is {screw_clear} mm clear of the bit's path for a screw: hold the board "
            "at its edges."
        ),
        number="screw_clear",
    ),
    said(
        tr(
            "Bore the two holes of {pin} mm marked before anything else; they take the pins of "
            "the next clamping."
        ),
        number="pin",
    ),
    said(
        tr(
            "Push the board on and set it down on two pins in the holes of the clamping "
            "before; their places on the bed are drawn."
        )
    ),
    said(tr("Blank {letter} is larger than the table")),
    said(tr("Let the sheet be broken down again, or choose a larger machine.")),
    said(tr("Blank {letter} hangs over the table's edge as it was put")),
    said(tr("Move it on the bed, or let it lie the usual way.")),
    said(
        tr(
            "Blank {letter}, clamping {number}: no waste that this and the next clamping both "
            "reach takes two holes of {pin} mm"
        ),
        number="number pin",
    ),
    said(tr("Move a piece aside there, or set the next clamping by marks on the edge.")),
    said(tr("{piece}: the bit does not get round it within its travel in clamping {id}")),
    said(tr("{piece}: the bit would run into a clamp in clamping {id}")),
    said(tr("{piece}:  in clamping {id}")),
    said(tr("Move the piece or the board on the bed, or nest again.")),
    said(tr("the bit does not get round it within its travel")),
    said(tr("the bit would run into a clamp")),
    said(tr("1 piece")),
    said(tr("{value} pieces")),
    said(tr("1 slug")),
    said(tr("{value} slugs")),
    said(
        tr("Tabs {tab} mm wide and {tab_thick} mm thick at the marks, none on a joint's flank"),
        number="tab tab_thick",
    ),
    said(tr("A skin of {skin} mm left below, pared off afterwards"), number="skin"),
    said(tr("Suction")),
    said(tr("A screw inside, at the mark")),
    said(tr("Milled away whole, too small to hold")),
    # core.nesting.engine
    said(tr("A locked piece has no place")),
    said(tr("piece {values}")),
    said(tr("Place it first or unlock it.")),
    said(tr("{placements} pieces on {sheets} sheets"), number="placements sheets"),
    said(tr("{placements} pieces on {sheets} sheet"), number="placements sheets"),
    said(tr("First layout: {placements} pieces on {sheets} sheets"), number="placements sheets"),
    said(tr("First layout: {placements} pieces on {sheets} sheet"), number="placements sheets"),
    said(tr("First layout: {text}"), words="text"),
    said(tr("Preparing the nesting engine; this happens once")),
    said(tr("Comparing outlines")),
    said(tr(", {unplaced} left out"), number="unplaced"),
    # core.nesting.finish
    said(tr("A locked piece or its sheet is not in the list")),
    said(tr("piece {key} copy {key2}")),
    said(tr("Unlock it or bring back the piece or sheet.")),
    said(tr("Locked pieces break a rule: {message}"), words="message"),
    said(tr("Move it or unlock it.")),
    said(tr("A filler; no waste has room for it")),
    said(tr("No room is left on the sheets there are")),
    said(tr("It fits no sheet in any turn allowed")),
    said(tr("It did not keep its distance")),
    # core.nesting.model
    said(tr("The spacing is {value} mm"), number="value"),
    said(tr("The edge margin is {value} mm"), number="value"),
    said(tr("nesting")),
    said(tr("Give a length of zero or more.")),
    said(tr("The quantity is {quantity}")),
    said(tr("Give zero or more.")),
    said(tr("No turn is allowed")),
    said(tr("Allow at least 0°, or any angle.")),
    said(tr("A turn is no number")),
    said(tr("Give turns in degrees.")),
    said(tr("sheet {id}")),
    said(tr("Give zero or more, or None.")),
    said(tr("The cost is {cost}")),
    said(tr("The sheet has no area")),
    said(tr("Check its outline.")),
    said(tr("Two pieces have the id {id}")),
    said(tr("Two sheets have the id {id}")),
    said(tr("Give each an id of its own.")),
    # core.nesting.place
    said(tr("There is no such piece")),
    # core.nesting.prepare
    said(tr("The outline is empty or not finite")),
    said(tr("The outline has no area")),
    # core.nesting.proof
    said(tr("Piece or sheet is not in the list")),
    said(tr("Sheet {id} number {sheet_copy} does not exist")),
    said(tr("{piece_id} and {piece_id2} overlap by {value} mm²"), number="value"),
    said(tr("{piece_id} and {piece_id2} are {gap} mm apart"), number="gap"),
    said(tr("Piece {key} copy {key2} is missing")),
    said(tr("Piece {key} has no copy {key2}")),
    said(tr("Piece {key} copy {key2} is there twice")),
    said(tr("Piece {id} must not be mirrored")),
    said(tr("Piece {id} must not be turned by {turn}°"), number="turn"),
    said(tr("{piece_id} reaches past the edge of the sheet")),
    said(tr("{piece_id} reaches past the edge of sheet {id}")),
    said(tr("{piece_id} is {gap} mm from the edge of the sheet"), number="gap"),
    said(tr("{piece_id} is {gap} mm from the edge of sheet {id}"), number="gap"),
    said(tr("{piece_id} lies where the sheet must not be used")),
    said(tr("{piece_id} lies where sheet {id} must not be used")),
    # core.outlines.dxf_load
    said(tr("This DXF is of a very old release ({decode})")),
    said(tr("Save it as DXF R12 or later.")),
    said(tr("The drawing holds more than {max_shapes} shapes"), number="max_shapes"),
    said(tr("Export only the panels to be cut.")),
    said(tr("This is not a DXF that can be read, or it is badly damaged")),
    said(tr("Export it again, as DXF R12 to R2018.")),
    said(tr("This binary DXF is damaged")),
    said(tr("Export it again, as a text DXF.")),
    said(tr("Lines end in a carriage return alone; read all the same.")),
    said(tr("The file stops before its end mark; the shapes up to there were read.")),
    said(tr("The file has no header; it was read as DXF R2000.")),
    said(tr("The file is badly damaged; what could be made out was read.")),
    said(tr("The file was damaged in {errors} place and mended."), number="errors"),
    said(tr("The file was damaged in {errors} places and mended."), number="errors"),
    # core.outlines.dxf_shapes
    said(tr("The DXF is too damaged to be read")),
    said(tr("Left out: {number} shape on paper space.")),
    said(tr("Left out: {number} shapes on paper space.")),
    said(tr("Read as if not clipped: {clipped} block.")),
    said(tr("Read as if not clipped: {clipped} blocks.")),
    said(tr("Left out: {broken} shape with values that make no sense.")),
    said(tr("Left out: {broken} shapes with values that make no sense.")),
    said(tr("A shape on layer {layer} lies in a tilted plane; its view from above was taken.")),
    said(tr("shape of no size")),
    said(tr("block nested too deeply")),
    said(tr("block of zero size")),
    # core.outlines.near
    said(tr("Too many shapes lie on top of each other")),
    said(tr("Delete the repeats in the drawing and export it again.")),
    # core.outlines.open_paths
    said(tr("There is no line in the drawing")),
    said(tr("Draw the tooth as one open line.")),
    # core.outlines.reading
    said(tr("The drawing's groups or blocks are nested too deeply")),
    said(tr("Explode them in the drawing and export it again.")),
    said(tr("Reading was stopped")),
    said(tr("Read the file again.")),
    said(tr("Draw the panels' outlines as lines, arcs or polylines in model space.")),
    said(tr("The numbers are too large to be {taken}")),
    said(tr("Delete what lies far outside, or say which unit the drawing is in.")),
    said(tr("text")),
    said(tr("point")),
    said(tr("There is no line to cut in the drawing: it holds {items}."), words="items"),
    said(tr("There is no line to cut in the drawing: it holds no shapes.")),
    # core.outlines.sniff
    said(tr("There is no such file")),
    said(tr("Check the name and the folder.")),
    said(tr("This is a folder")),
    said(tr("Name the drawing inside it.")),
    said(tr("The file cannot be opened ({error})")),
    said(tr("Check that you may read it.")),
    said(tr("The file is empty")),
    said(tr("Export the drawing as DXF or SVG.")),
    said(tr("This is {what}"), words="what"),
    said(tr("Save it as DXF instead.")),
    said(tr("This is {what}, not a drawing"), words="what"),
    said(tr("This is no drawing: neither DXF nor SVG")),
    said(tr("The packed file is damaged")),
    said(
        tr(
            "The file is too large to be a drawing of panels ({size} MB, at most "
            "{max_file_bytes} MB)"
        ),
        number="size max_file_bytes",
    ),
    said(tr("a PNG picture")),
    said(tr("a JPEG picture")),
    said(tr("a GIF picture")),
    said(tr("a BMP picture")),
    said(tr("a TIFF picture")),
    said(tr("a PDF")),
    said(tr("a PostScript file")),
    said(tr("a ZIP archive or an office file")),
    said(tr("an archive")),
    said(tr("a program")),
    said(tr("a 3D mesh")),
    said(tr("a STEP model")),
    said(tr("a DWG drawing")),
    said(tr("a web page")),
    said(tr("an XML file without a drawing in it")),
    # core.outlines.svg_shapes
    said(tr("The shapes in this SVG cannot be read")),
    said(tr("Export it again as SVG or DXF.")),
    said(tr("The XML holds no SVG drawing")),
    said(tr("Left out: {hidden} line inside a filled shape, no hole's edge."), number="hidden"),
    said(tr("Left out: {hidden} lines inside a filled shape, no hole's edge."), number="hidden"),
    # core.outlines.svg_tree
    said(tr("The XML holds “{value}”, not a drawing")),
    said(tr("Export it as SVG or DXF.")),
    said(tr("The file uses XML entities that reach into other files or each other")),
    said(tr("Export it again as plain SVG.")),
    said(tr("The file's XML entities unfold to too much text")),
    said(tr("Export it as plain SVG.")),
    said(tr("The XML cannot be read ({error})")),
    said(tr("The XML is empty")),
    said(tr("The drawing's groups are nested too deeply")),
    said(tr("Ungroup them once or twice.")),
    said(tr("The drawing unfolds to more than {max_shapes} shapes"), number="max_shapes"),
    said(tr("The XML breaks off ({error}); the shapes up to there were read.")),
    said(tr("Read as if not clipped: {number} shape or group.")),
    said(tr("Read as if not clipped: {number} shapes or groups.")),
    said(tr("circular reference")),
    # core.outlines.taken_unit
    said(
        tr(
            "The header says {unit}, and in no usual unit is the largest panel a panel's size; "
            "taken as {taken}, the largest panel is {width} × {height}."
        )
    ),
    said(
        tr(
            "The file names no unit, and in no usual unit is the largest panel a panel's size; "
            "taken as {taken}, the largest panel is {width} × {height}."
        )
    ),
    said(
        tr(
            "The drawing's size is in pixels or not given, and in no usual unit is the largest "
            "panel a panel's size; taken as {taken}, the largest panel is {width} × {height}."
        )
    ),
    said(tr("Check the size; if it is wrong, take the numbers as {named}."), words="named"),
    said(
        tr("{why}{because}; taken as {taken}, the largest panel is {width} × {height}."),
        words="why because",
    ),
    said(tr("The header says {unit}; taken as {taken}, the largest panel is {width} × {height}.")),
    said(tr("The file names no unit; taken as {taken}, the largest panel is {width} × {height}.")),
    said(
        tr(
            "The drawing's size is in pixels or not given; taken as {taken}, the largest panel "
            "is {width} × {height}."
        )
    ),
    said(
        tr(
            "The header says inches, but then the smallest hole or slot is {least} wide; as mm "
            "it is {least2} and the largest panel {width} × {height}."
        )
    ),
    said(tr("Check the size; if it is wrong, take the numbers as mm.")),
    said(
        tr("its narrowest hole or slot is {narrow} wide, too narrow for a bit in mm"),
        number="narrow",
    ),
    said(tr("inches")),
    said(tr("feet")),
    said(tr("The header says {unit}, which gives no panel's size")),
    said(tr("The file names no unit, which gives no panel's size")),
    said(tr("The drawing's size is in pixels or not given, which gives no panel's size")),
    said(tr("The header says {unit}")),
    said(tr("The file names no unit")),
    said(tr("The drawing's size is in pixels or not given")),
    # core.outlines.telling
    said(tr("Left out: {value} shape on layers switched off or frozen.")),
    said(tr("Left out: {value} shapes on layers switched off or frozen.")),
    said(tr("Left out because they hold no cutting line: {items}."), words="items"),
    said(
        tr("The drawing lies very far out; {origin}, {origin2} mm was taken off every coordinate."),
        number="origin origin2",
    ),
    said(
        tr(
            "By its name {layers} would not be cut, but nothing else would be either; it was "
            "taken as outlines to cut."
        ),
        list="layers",
    ),
    said(tr("Left out by the layer's role: {items}."), list="items"),
    said(tr("The drawing shows {features} thing to be cut into a panel, and no panel.")),
    said(tr("The drawing shows {features} things to be cut into a panel, and no panel.")),
    said(tr("The one shape in the drawing never makes a closed outline to cut.")),
    said(tr("None of the {shapes} shapes in the drawing makes a closed outline to cut.")),
    said(tr("On layer “{layer}” 1 line was drawn twice, together {total}; each is cut once.")),
    said(
        tr(
            "On layer “{layer}” {members} lines were drawn twice, together {total}; each is "
            "cut once."
        ),
        number="members",
    ),
    said(tr("A gap of {gap} on layer “{layer}” was closed at {at}.")),
    said(tr("More closed gaps: {rest}, of up to {gap}."), number="rest"),
    said(tr("A line on layer “{layer}” ran {size} past its corner at {at}; it was trimmed.")),
    said(
        tr("A line on layer “{layer}” stopped {size} short of another at {at}; it was lengthened.")
    ),
    said(
        tr("More lines brought to their corners: {rest}, up to {length} too long or too short."),
        number="rest",
    ),
    said(tr("An outline on layer “{layer}” is open by {gap} between {end} and {start}.")),
    said(tr("A line of {length} on layer “{layer}” from {start} to {end} belongs to no outline.")),
    said(tr("More lines on layer “{layer}” that belong to no outline: {number}.")),
    said(
        tr(
            "Three or more lines meet at {points} and elsewhere; the closed shapes between "
            "them were taken as outlines that share an edge."
        ),
        list="points",
    ),
    said(
        tr(
            "Three or more lines meet at {points}; the closed shapes between them were taken "
            "as outlines that share an edge."
        ),
        list="points",
    ),
    said(tr("Outlines touch in a corner at {points}.")),
    said(tr("Left out: {stubs} scrap of line no longer than a closed gap."), number="stubs"),
    said(tr("Left out: {stubs} scraps of line no longer than a closed gap."), number="stubs"),
    said(tr("Left out: {specks} closed shape too small to cut.")),
    said(tr("Left out: {specks} closed shapes too small to cut.")),
    said(tr("An outline on layer “{layer}” touches itself at {at}; it was taken apart there.")),
    said(tr("A kink too small to cut was taken out of an outline on layer “{layer}” at {at}.")),
    said(
        tr(
            "An outline on layer “{layer}” crosses itself at {at}, so its inside is not "
            "certain; it was left out."
        )
    ),
    said(tr("The same outline stands twice on layer “{layer}” at {at}; it is taken once.")),
    said(tr("The same outline lies on layers “{layer}” and “{layer2}” at {at}; it is taken once.")),
    said(tr("The same outline lies in two blocks on layer “{layer}” at {at}; it is taken once.")),
    said(tr("Two outlines on {value} cross at {at}."), list="value"),
    said(
        tr(
            "A hole touches the edge of the outline around {at}; it was cut out of it, with "
            "arcs as short straight lines."
        )
    ),
    said(tr("Holes that touch divide the outline around {at} into parts; it was left out.")),
    said(tr("Taken as no panel: {sheets} outline on sheet layers."), number="sheets"),
    said(tr("Taken as no panel: {sheets} outlines on sheet layers."), number="sheets"),
    said(
        tr(
            "The rectangle on layer “{layer}” has the size of a board and {holes} outlines "
            "inside it, which were taken as its holes."
        ),
        number="holes",
    ),
    said(tr("Layer “{layer}” was read as {role}, {depth} deep from the back."), words="role"),
    said(tr("Layer “{layer}” was read as {role}, {depth} deep."), words="role"),
    said(tr("Layer “{layer}” was read as {role}, but nothing says how deep."), words="role"),
    said(
        tr(
            "A line on layer “{layer}” is open at {end}; a {role} needs a closed one, so it "
            "was left out."
        ),
        words="role",
    ),
    said(tr("A shape on drill layer “{layer}” at {at} is not round and was left out.")),
    said(
        tr("A {kind} on layer “{layer}” at {at} lies on no panel and was left out."), words="kind"
    ),
    said(tr("Count the panels; if one is missing, export the file again.")),
    said(tr("Switch the layer on in the drawing if it is to be cut.")),
    said(tr("Turn them into lines in the drawing if they are to be cut.")),
    said(tr("Check the role of the layer.")),
    said(tr("Give the layer another role if it is to be cut.")),
    said(tr("Read it together with the drawing that shows the panel's outline.")),
    said(tr("Close the outlines in the drawing, and check the roles of its layers.")),
    said(tr("Look at the corner; draw it closed if it is wrong.")),
    said(tr("Look at the corner; draw it anew if it is wrong.")),
    said(tr("Look at the corners; draw them anew if they are wrong.")),
    said(tr("Close it in the drawing, or close gaps of this size.")),
    said(tr("Close it in the drawing.")),
    said(tr("Join it to an outline, or leave it out.")),
    said(tr("Close them, or leave them out.")),
    said(tr("Check the outlines there; draw each panel closed if they are wrong.")),
    said(tr("Redraw the line there so that it does not cross.")),
    said(tr("If two are to be cut, count it as quantity.")),
    said(tr("Move one, or give its layer the role pocket if it does not go right through.")),
    said(tr("Draw the notch as part of the outline.")),
    said(tr("Draw every part as an outline of its own.")),
    said(tr("If it only shows the sheet, give it a layer with the role sheet.")),
    said(tr("Name the layer with its depth, like “{role} 6”, or set it."), words="role"),
    said(tr("Draw a circle or a point there, or take the layer as a pocket.")),
    said(tr("Move it onto its panel, or check the panel's outline.")),
    said(tr("ran {0} past its corner at {1}; it was trimmed")),
    said(tr("stopped {0} short of another at {1}; it was lengthened")),
    said(tr("{number} × {kind}"), words="kind"),
    said(tr("cut")),
    said(tr("pocket")),
    said(tr("dado")),
    said(tr("rebate")),
    said(tr("drill")),
    said(tr("engrave")),
    said(tr("sheet")),
    said(tr("ignore")),
    # core.outlines.typed
    said(tr("Line {line} was left out: {what}."), words="what"),
    said(tr("Correct the row and read the table again.")),
    said(tr("Line {line}: {panel} measures {size}, longer than any sheet.")),
    said(tr("Check the unit.")),
    said(tr("The table has more than {n} rows; the rest was left out."), number="n"),
    said(tr("Split the table.")),
    said(tr("The table breaks off at line {line_num} ({error}).")),
    said(tr("Check the quotation marks there.")),
    said(tr("A corner radius of {r} does not fit {w}")),
    said(tr("Give at most half the shorter side.")),
    said(tr("A hole of {hole} does not fit a disc of {diameter}")),
    said(tr("Give a smaller hole.")),
    said(tr("The triangle's top lies too far out")),
    said(tr("Three sides of these lengths make no triangle")),
    said(tr("The two shorter ones together must be longer than the third.")),
    said(tr("the quantity “{cells}” is no whole number from 1 to {n}"), number="n"),
    said(tr("the grain “{cells}” is not known")),
    said(tr("the machine “{cells}” is not known")),
    said(tr("Write {words}."), list="words"),
    said(tr("The {name} must be above zero, not {value} mm"), words="name", number="value"),
    said(tr("Give another length.")),
    said(tr("The table cannot be opened ({strerror})")),
    said(tr("Check the name.")),
    said(tr("The table is too large")),
    said(tr("Keep only the panels' rows.")),
    said(tr("This is no table of text")),
    said(tr("Save the spreadsheet as CSV first.")),
    said(tr("“{cells}” holds three numbers")),
    said(tr("Put the quantity beside it.")),
    said(tr("it has no size")),
    said(tr("Write width x height, like 900x600.")),
    said(tr("diameter")),
    said(tr("base")),
    said(tr("first")),
    said(tr("second")),
    said(tr("third")),
    # core.outlines.write
    said(tr("The drawing could not be written ({strerror})")),
    said(tr("Check that the folder exists, is writable and has room.")),
    said(tr("DXF version “{dxf_version}” is not written")),
    said(tr("Use {versions}."), words="versions"),
    said(tr("layer {layer}")),
    # core.pieces
    said(
        tr(
            "No way was found to split {panel} ({size}) so that every piece fits the router: "
            "{reasons}"
        ),
        words="reasons",
    ),
    said(tr("Draw seams by hand on the Joints stage, or choose a larger machine.")),
    said(tr("{panel} is of “{material}”, which is not in the Shop")),
    said(tr("{panel} has no board")),
    said(tr("Choose its board, or add that board in the Shop.")),
    said(tr("{material} was not measured; joints take its nominal {nominal} mm"), number="nominal"),
    said(tr("Measure a sheet with a caliper and enter the readings in the Shop.")),
    said(tr("There is no sheet of {material} in the Shop")),
    said(tr("Add a sheet size or an offcut in the Shop.")),
    said(tr("{panel} is to be cut by the saw but is no plain rectangle")),
    said(tr("Let the router cut it.")),
    said(tr("Cutting {panel}")),
    said(tr("relief is cut at its inside corners")),
    said(tr("no relief is cut: square its inside corners by hand, or round the mate's")),
    said(tr("Pushed home it closes up by {closing}.")),
    # core.planning
    said(tr("{piece}, copy {copy}, is on sheet {number} and elsewhere too")),
    said(tr("Take it off the sheet.")),
    said(tr("There is no panel yet")),
    said(tr("Import a drawing.")),
    said(tr("{n} of {quantity} × {piece}, wanted only where waste allows, found no room")),
    said(
        tr(
            "The pieces of {names}, copy {copy}, do not lie side by side in their order: the "
            "grain will not run through"
        )
    ),
    said(tr("Nest it again on a sheet or blank that holds all of it, or lay them by hand.")),
    said(tr("{piece}, copy {copy}, no longer fits the blanks that were sawn")),
    said(tr("Take back the change, make room by hand, or give up the sawn sheet.")),
    said(
        tr("A full sheet weighs up to {most} kg, more than the {lift} kg one person lifts"),
        number="most lift",
    ),
    said(tr("Get help, or have the yard make the first cuts.")),
    said(tr("Its panel is too big for the machine; it is {size}")),
    said(tr("There is no sheet of its board in the Shop")),
    said(tr("It goes only where waste allows, and no waste was left for it")),
    said(
        tr(
            "No blank the machine takes this way has room for it, as its grain must lie; it is "
            "{size}"
        )
    ),
    said(tr("No blank the machine takes this way has room for it; it is {size}")),
    said(tr("The sheets of {material} are used up")),
    said(tr("No room was found for it in the steps or time given")),
    # core.project.codec
    said(tr("Expected {expected}, found {shown}"), words="expected"),
    said(tr("project")),
    said(tr("the top level")),
    said(tr("Restore the file from a backup, or mend this value.")),
    said(tr("A value is missing")),
    said(tr("Restore it from a backup.")),
    said(tr("one of {kind}"), list="kind"),
    said(tr("true or false")),
    said(tr("a whole number")),
    said(tr("a finite number")),
    said(tr("a number")),
    said(tr("a text")),
    said(tr("a list")),
    said(tr("a list of {args} values"), number="args"),
    said(tr("a record")),
    # core.project.copies
    said(
        tr(
            "{panel} was counted {quantity} times; a copy of it now looks otherwise and is a "
            "panel of its own"
        )
    ),
    said(tr("Look at the quantities of both.")),
    # core.project.edits
    said(tr("{value} is now cut into the panel it lies on")),
    said(tr("Give its layer another role if it does not go right through.")),
    said(
        tr(
            "Layer “{layer}” was read as {role}, {depth} deep from the back, as you decided before."
        ),
        words="role",
    ),
    said(
        tr("Layer “{layer}” was read as {role}, {depth} deep, as you decided before."), words="role"
    ),
    said(
        tr("Layer “{layer}” was read as {role} from the back, as you decided before."), words="role"
    ),
    said(tr("Layer “{layer}” was read as {role}, as you decided before."), words="role"),
    said(tr("If this drawing means it differently, read the layer by its name.")),
    said(
        tr("{left_out} outline in {file_name} stayed out, as you removed or counted them before."),
        number="left_out",
    ),
    said(
        tr("{left_out} outlines in {file_name} stayed out, as you removed or counted them before."),
        number="left_out",
    ),
    said(tr("Bring them back if they are to be panels after all.")),
    said(tr("The file cannot be read ({strerror})")),
    said(tr("Check the name, the folder and its permissions.")),
    # core.project.file
    said(tr("This is no Seamwright project, or it is damaged")),
    said(tr("{source}, line {problem}")),
    said(tr("the project, line {problem}")),
    said(tr("the project")),
    said(tr("Open another file, or restore this one from a backup.")),
    said(tr("This is no Seamwright project")),
    said(tr("Open a file that Seamwright saved.")),
    said(tr("The project's version is damaged")),
    said(tr("Restore a backup.")),
    said(
        tr("A newer Seamwright saved this (file version {version}, this one reads {n})"), number="n"
    ),
    said(tr("Update Seamwright; the file was left as it is.")),
    said(tr("An outline cannot be used ({problem})")),
    said(tr("Check its permissions.")),
    said(tr("This is no Seamwright project (it is not text)")),
    said(tr("This folder holds no project")),
    said(tr("This folder holds several projects")),
    said(tr("Name the project file itself.")),
    # core.project.output
    said(tr("paper and files")),
    said(tr("Choose another paper.")),
    said(tr("Drawings are not written as {dxf_version}")),
    said(tr("A drawing's origin cannot be “{dxf_origin}”")),
    said(tr("The first free label is below 1")),
    said(tr("Count from 1.")),
    said(tr("A layer is named twice")),
    said(tr("Name each purpose once.")),
    said(tr("Two label sheets have the same name")),
    said(tr("corner")),
    said(tr("centre")),
    # core.project.rereading
    said(tr("{panel} is no longer in {file_name}")),
    said(tr("It was taken out of the project; undo brings it back.")),
    said(tr("{panel}: {rows}"), words="rows"),
    said(tr("Seam line {number} of {panel} no longer crosses it"), number="number"),
    said(tr("Move the seam, or remove it.")),
    said(tr("A mark on {panel} no longer lies on it")),
    said(tr("Move the mark, or remove it.")),
    said(tr("{gone} places on sheets went with the panels that are gone")),
    said(tr("its outline differs by up to {differs} mm"), number="differs"),
    said(tr("it moved by {dx}, {dy} mm in the drawing"), number="dx dy"),
    said(tr("its pockets or drill centres differ")),
    # core.project.spread
    said(
        tr(
            "{file_name} and {file_name2} seem to belong together: what {file_name3} cuts into "
            "a panel lies on one of {file_name4}."
        )
    ),
    said(
        tr(
            "{file_name} and {file_name2} seem to belong together: all that {file_name3} shows "
            "lies inside panels of {file_name4}."
        )
    ),
    said(tr("{file_name} and {file_name2} seem to belong together: their open lines meet.")),
    said(tr("Read them together as one drawing.")),
    said(
        tr("{members} panels in {file_name} have the same outline: {listed}."),
        words="listed",
        number="members",
    ),
    said(
        tr("{members} panels in {drawing} and {file_name} have the same outline: {listed}."),
        words="listed",
        number="members",
    ),
    said(tr("If they are copies of one panel, count them as quantity.")),
    said(tr(" and {members} more")),
    # core.project.validate
    said(tr("{what} is {value} mm"), words="what", number="value"),
    said(tr("material {material}")),
    said(tr("the limits")),
    said(tr("the rules")),
    said(tr("Give a size greater than zero.")),
    said(tr("The heaviest blank is {value} kg"), number="value"),
    said(tr("What one person lifts is {value} kg"), number="value"),
    said(tr("Give a mass greater than zero.")),
    said(tr("fit for glued joints")),
    said(tr("fit for knock-down joints")),
    said(tr("the rules of drawn joints")),
    said(tr("panel {panel}")),
    said(tr("Give zero or more; a larger value is more room.")),
    said(tr('Two materials are called "{name}"')),
    said(tr('Two sheets are called "{name}"')),
    said(tr('Two teeth are called "{name}"')),
    said(tr('Two panels are called "{name}"')),
    said(tr("the materials")),
    said(tr("the sheets")),
    said(tr("the drawn teeth")),
    said(tr("the panels")),
    said(tr("The density is not above zero")),
    said(tr("Give kg per m³.")),
    said(tr("The quantity is below zero")),
    said(tr("The cost is below zero")),
    said(tr("The outline crosses itself")),
    said(tr("Draw the outline again.")),
    said(tr("A defect's outline crosses itself")),
    said(tr("Mark it again.")),
    said(tr("There is no bit")),
    said(tr("Add a bit in the Shop.")),
    said(tr("The sign of the currency is too long")),
    said(tr("Give a sign or a code, such as € or kr.")),
    said(tr("It has fewer than two points")),
    said(tr("Draw it again.")),
    said(tr("The outline crosses itself or holds no area")),
    said(tr("Read its drawing again.")),
    said(tr("A seam has fewer than two points")),
    said(tr("Remove it.")),
    said(tr("travel")),
    said(tr("table")),
    said(tr("length")),
    said(tr("thickness")),
    said(tr("clamp bar")),
    said(tr("toe clamp")),
    said(tr("screw")),
    said(tr("edge stop")),
    said(tr("The nominal thickness")),
    said(tr("A thickness reading")),
    said(tr("The bought thickness")),
    said(tr("The width")),
    said(tr("The height")),
    said(tr("The width of the {what}"), words="what"),
    said(tr("The depth of the {what}"), words="what"),
    said(tr("A bit's diameter")),
    said(tr("A bit's cutting length")),
    said(tr("The width of {clamp}"), words="clamp"),
    said(tr("The depth of {clamp}"), words="clamp"),
    said(tr("The width of a vacuum area")),
    said(tr("The depth of a vacuum area")),
    said(tr("The greatest {what} clamped upright"), words="what"),
    said(tr("The width of the vehicle")),
    said(tr("The width of the door")),
    said(tr("The height of the vehicle")),
    said(tr("The height of the door")),
    said(tr("The width of the planer")),
    said(tr("The shortest length the planer takes")),
    said(tr("The width of a tab")),
    said(tr("The thickness of a tab")),
    said(tr("The skin left")),
    said(tr("The diameter of a pin")),
    said(tr("The reach of the fence")),
    said(tr("The distance from clamps")),
    said(tr("The snipe")),
    said(tr("The spacing")),
    said(tr("The edge margin")),
    said(tr("The kerf")),
    said(tr("The edge trim")),
    said(tr("The fit")),
    said(tr("The oversize of a blank")),
    said(tr("The distance of screws from the bit")),
    said(tr("The proud allowance")),
    said(tr("The play in depth")),
    said(tr("A seam's fit")),
    said(tr("The fit of a drawn joint")),
    said(tr("The proud allowance of a drawn joint")),
    # core.refit.mates
    said(tr("it can be read as a row of teeth or as notches")),
    said(tr("it is drawn {size} mm, not the nominal {first} mm"), number="size first"),
    said(tr("it could be for {rivals}"), list="rivals"),
    said(tr("its teeth fit slots and another row of teeth")),
    said(tr("its teeth are drawn with {play} mm of play already"), number="play"),
    said(tr("no slot was found that its tooth goes through")),
    said(tr("no tooth was found that goes into it")),
    said(tr("no row of teeth or slots was found that it fits")),
    said(tr("only some of its teeth fit slots")),
    # core.refit.panels
    said(
        tr(
            "{panel}: a decision about a row of teeth at ({anchor}, {anchor2}) fits nothing in "
            "the drawing any more"
        ),
        number="anchor anchor2",
    ),
    said(
        tr(
            "{panel}: a decision about a {kind} at ({anchor}, {anchor2}) fits nothing in the "
            "drawing any more"
        ),
        words="kind",
        number="anchor anchor2",
    ),
    said(tr("Remove the decision, or decide again for the joint that took its place.")),
    said(tr("width")),
    said(tr("height")),
    # core.refit.pieces
    said(tr("The joints of {piece} cannot be re-cut: {what}"), words="what"),
    said(tr("Move the seam away from the joint, or leave the joint as drawn.")),
    # core.refit.recognition
    said(tr("it is a pocket, which need not hold a board")),
    said(tr("either side could be the thickness")),
    said(tr("its longer side is the thickness")),
    said(tr("its ends are round")),
    said(tr("its end is round")),
    said(tr("it is shallower than half its width")),
    said(tr("it is a single step")),
    # core.refit.skeleton
    said(tr("A wall that runs on smoothly into its neighbour cannot be moved alone")),
    said(tr("Draw a corner between them, or leave the joint as drawn.")),
    said(tr("A moved wall no longer meets its neighbour")),
    said(tr("Leave the joint as drawn, or draw it again.")),
    said(tr("Moving the walls of a joint would leave nothing between them")),
    # core.refit.thickness
    said(
        tr(
            "{material}: readings differ by {spread}, more than the fit of {fit}; slots made "
            "for the thickest board leave {spread2} round the thinnest"
        )
    ),
    said(tr("Sort the sheets, or take the joints that show from one sheet.")),
    said(tr("{material} is planed before use, but was measured as bought")),
    said(tr("Measure it again once it is planed; joints follow that reading.")),
    said(
        tr(
            "{material} measures {measured}; PS 1 performance category allows {low} to {high} "
            "for {label}"
        ),
        words="label",
    ),
    said(
        tr("{material} measures {measured}; PS 1 sanded allows {low} to {high} for {label}"),
        words="label",
    ),
    said(
        tr("{material} measures {measured}; EN 315 allows {low} to {high} for {label}"),
        words="label",
    ),
    said(
        tr("{material} measures {measured}; EN 622-1 MDF allows {low} to {high} for {label}"),
        words="label",
    ),
    said(tr("Check the reading and which board it is.")),
    said(tr("A board of {nominal} mm"), number="nominal"),
    said(tr("Give the thickness it is sold under.")),
    said(tr("{t} mm is no performance category"), number="t"),
    said(tr("Categories are {ps_1_categories} inch."), list="ps_1_categories"),
    said(
        tr("{standard} (as quoted in secondary literature) allows {label} boards {low} to {high}."),
        words="standard label",
    ),
    said(
        tr(
            "{standard} (as quoted in secondary literature) allows {label} boards {low} to "
            "{high}; {usual} is usual."
        ),
        words="standard label",
    ),
    said(
        tr(
            "No reading yet: joints are made for the nominal thickness. Measure every sheet "
            "near its corners and the middles of its sides."
        )
    ),
    said(
        tr("Joints are made for {measured}, the largest of {material} readings (bought)."),
        number="material",
    ),
    said(
        tr("Joints are made for {measured}, the largest of {material} readings (planed)."),
        number="material",
    ),
    said(
        tr("Joints are made for {measured}, the largest of {material} readings (sanded)."),
        number="material",
    ),
    said(
        tr("Joints are made for {measured}, the largest of {material} readings (finished)."),
        number="material",
    ),
    said(tr("PS 1 performance category")),
    said(tr("PS 1 sanded")),
    said(tr("EN 315")),
    said(tr("EN 622-1 MDF")),
    # core.refit.told
    said(
        tr("{panel}: a {reading} drawn {size} is left as drawn, because {doubts}"),
        words="reading doubts",
    ),
    said(tr("Say on the Joints stage whether it is re-cut, and for which board.")),
    said(
        tr(
            "{panel}: a {reading} is left as drawn, because a wall of it belongs to another "
            "joint that moves it differently"
        ),
        words="reading",
    ),
    said(tr("Choose one of the two.")),
    said(tr("{panel}: a {reading} is left as drawn: {what}{what2}"), words="reading"),
    said(tr("Draw the joint again.")),
    said(tr("{panel}: re-cut for the boards as measured: {parts}"), words="parts"),
    said(
        tr(
            "{panel}: its {what} becomes {after} instead of {before}; the outside is held, "
            "teeth stand {proud} proud"
        ),
        words="what",
    ),
    said(
        tr(
            "{panel}: its {what} becomes {after} instead of {before}; the inside is held, "
            "teeth stand {proud} proud"
        ),
        words="what",
    ),
    said(
        tr(
            "{panel}: it stays as long as drawn while its teeth stand {proud} proud; sanded "
            "flush, each jointed end comes out {proud2} shorter"
        )
    ),
    said(tr("Set the proud allowance to 0 where the finished size must be as drawn.")),
    said(
        tr(
            "{panel}: 1 inside corner that a mate's corner enters stays round ({radius} mm), "
            "because there is no room for a relief"
        ),
        number="radius",
    ),
    said(
        tr(
            "{panel}: 1 inside corner that a mate's corner enters stays round ({radius} mm), "
            "because relief is left out there"
        ),
        number="radius",
    ),
    said(
        tr(
            "{panel}: {here} inside corners that a mate's corner enters stay round ({radius} "
            "mm), because there is no room for a relief"
        ),
        number="here radius",
    ),
    said(
        tr(
            "{panel}: {here} inside corners that a mate's corner enters stay round ({radius} "
            "mm), because relief is left out there"
        ),
        number="here radius",
    ),
    said(tr("Take a thinner bit or another relief.")),
    said(tr("Square the corners by hand, or round the mate's.")),
    said(tr("row of teeth")),
    said(tr("slot")),
    said(tr("notch")),
    said(tr("cross-halving")),
    said(tr("comb")),
    said(tr("tenon")),
    said(tr("{n} × {reading} {old} → {new}"), words="reading"),
    # core.refit.walls
    said(tr("Re-cut joints would run into each other ({polygon})")),
    said(tr("Leave one of them as drawn.")),
    # core.reports.alternatives
    said(tr("All stock of the shop")),
    said(tr("{material}: only {width}")),
    said(tr("Without the rack")),
    # core.reports.drawings
    said(tr("There is no layer for “{purpose}”")),
    said(tr("The layer for “{purpose}” needs a name")),
    said(tr("The layer for “{purpose}” holds {{pop}}")),
    said(tr("Only {depth} and {diameter} are filled in.")),
    said(tr("The layers for “{taken}” and “{purpose}” have the same name “{name}”")),
    # core.reports.files
    said(tr("A file could not be written ({strerror})")),
    said(
        tr(
            "Check that the folder is writable, has room, and that no other program holds the "
            "file open."
        )
    ),
    said(tr("A drawing of an earlier plan could not be removed ({strerror})")),
    said(tr("Delete it by hand: it belongs to no sheet of this plan.")),
    # core.reports.fonts
    said(tr("A font that the pages need is missing or damaged")),
    said(tr("Install again.")),
    # core.reports.label_formats
    said(tr("A label sheet needs rows, columns and margins of 0 or more")),
    said(
        tr("Labels of {width} × {height} mm do not go on {paper} that way"), number="width height"
    ),
    said(tr("Labels are 20 mm or more each way, lie apart and inside the paper.")),
    said(tr("There is no place {first_place} on a sheet of {per_page} labels")),
    said(tr("Begin at 1 to {per_page}.")),
    said(tr("A label sheet needs a name")),
    said(tr("There are no labels called “{name}”")),
    said(tr("There are no labels called “Letter, cut out, 2 × 5 of 94 × 50 mm”")),
    said(tr("There are no labels called “A4, cut out, 2 × 6 of 92 × 45 mm”")),
    # core.reports.paper
    said(tr("There is no paper called “{paper}” here")),
    said(tr("There is no paper called “A4” here")),
    said(tr("There is no paper called “Letter” here")),
    # core.reports.svg
    said(tr("Pictures are made with 10 to 1200 dots per inch")),
    said(tr("There is no page {number}")),
    said(tr("Pages run from 1 to {document}."), number="document"),
    # core.reports.templates
    said(tr("There is no seam “{seam}” in this plan")),
    said(tr("There is no piece “{piece}” in this plan")),
    said(tr("A template is of one seam or of one piece")),
    said(tr("A template of that size would take {columns} pages")),
    said(tr("At most {n} are printed: use larger paper or the drawing file."), number="n"),
    # core.reports.ways
    said(tr("Nothing could be placed.")),
    said(tr("1 piece has no place.")),
    said(tr("{unplaced} pieces have no place.")),
    # core.splitting.assembly
    said(tr("The half-laps go round in a circle: no piece can lie lowest")),
    said(tr("Turn one of the seams over.")),
    said(tr("lay it down")),
    said(tr("lay it over at {letters}"), list="letters"),
    said(tr("slide it in at {letters}"), list="letters"),
    said(tr("drop it in from the face at {letters}"), list="letters"),
    # core.splitting.boards
    said(tr("Choose its board again, or add that board in the Shop.")),
    said(
        tr(
            "{name} is of {board}, finished {thickness} mm, beside {main} of {thickness2} mm: "
            "their faces are not flush"
        ),
        number="thickness thickness2",
    ),
    said(tr("Take boards of one finished thickness, or plane both to one.")),
    said(
        tr(
            "{panel}: boards change at seam {changes}; the grain keeps its direction there but "
            "its figure does not run on"
        )
    ),
    said(
        tr(
            "{panel}: boards change at seams {changes}; the grain keeps its direction there "
            "but its figure does not run on"
        ),
        list="changes",
    ),
    said(tr("Take one board for all pieces if the figure is to run on.")),
    # core.splitting.extras
    said(tr("A key has no half on one side of the seam")),
    said(tr("A half-lap leaves nothing of a piece")),
    # core.splitting.graph
    said(tr("A seam touches the outline without crossing it")),
    said(tr("Drag it further into the panel, or off the corner.")),
    said(tr("A seam meets the outline in an impossible way")),
    said(tr("A seam ends inside the board")),
    said(tr("The seams do not part the panel cleanly")),
    said(tr("A seam runs along the outline")),
    said(tr("Drag it further into the panel.")),
    said(tr("The seams do not reach the panel's outer edge")),
    said(tr("A seam has the same piece on both sides")),
    # core.splitting.laying
    said(tr("A seam does not cross the panel")),
    said(tr("Drag it over the panel, or remove it.")),
    said(
        tr(
            "{spots} inside corners of a seam that a mate's corner enters stay round ({radius} "
            "mm), because relief is left out there"
        ),
        number="spots radius",
    ),
    said(tr("Square them by hand, round the mate's, or choose a relief.")),
    said(tr("A fit of {fit} mm is no play a joint can have"), number="fit"),
    said(tr("Take 0 to 5 mm.")),
    # core.splitting.limits
    said(tr('"{name}" cannot be cut: the machine has no room free of clamps')),
    said(
        tr('"{name}" is {size} × {size2} mm, turned by {turn}° still {over} (room {w} × {h} mm)'),
        words="over",
        number="size size2 turn w h",
    ),
    said(
        tr('"{name}" is {size} × {size2} mm, {over} (room {w} × {h} mm)'),
        words="over",
        number="size size2 w h",
    ),
    said(tr("Split it, or move the seam.")),
    said(
        tr(
            '"{panel}" put together is {sides} mm across and does not pass a door of {door} '
            "× {door2} mm"
        ),
        number="sides door door2",
    ),
    said(tr("Put it together where it will stand.")),
    said(tr("{extra} mm too long"), number="extra"),
    said(tr("{extra} mm too wide"), number="extra"),
    said(tr("too heavy for one person or too wide for the planer")),
    # core.splitting.lines
    said(tr("A seam line needs two points apart from each other")),
    said(tr("A seam turns back on itself")),
    said(tr("Move that point, or remove it.")),
    said(
        tr("A seam curves with a radius of {tightest} mm, tighter than the bit allows"),
        number="tightest",
    ),
    said(tr("Curve it less: {least} mm or more."), number="least"),
    # core.splitting.planner
    said(tr("You chose to leave it whole.")),
    said(tr("No way keeps off every engraved line.")),
    said(tr("{pieces} pieces; fewer than {lower_bound} cannot do.")),
    said(tr("{pieces} pieces, the fewest possible.")),
    said(tr("{seam} mm of joint in {seams} seam lines."), number="seam seams"),
    said(tr("{shorter} mm less joint than the first proposal."), number="shorter"),
    said(tr('"{panel}": the machine has no room free of clamps')),
    said(tr('"{panel}": no way of splitting it was found in which every piece fits')),
    said(tr("Draw the seams yourself, remove a never-mark, or take a smaller tooth.")),
    said(tr("Limits must be PieceLimits, a shop, a machine or the travel (width, height)")),
    said(tr("It fits whole.")),
    said(tr("The machine has no room free of clamps.")),
    said(tr("No way of splitting it was found in which every piece fits.")),
    # core.splitting.remarks
    said(
        tr(
            "A round hole of {diameter} mm is thinner than the {diameter2} mm bit and is "
            "drilled instead"
        ),
        number="diameter diameter2",
    ),
    said(tr("Drill it to size, or cut it with a thinner bit.")),
    said(tr("A seam crosses a place marked never to be crossed{note}"), words="note"),
    said(tr("Move the seam, or remove the mark.")),
    said(tr("A seam crosses a feature ({kind}); it is cut in two"), words="kind"),
    said(tr("Move the seam beside it.")),
    said(
        tr("A joint length of {span} mm is too short or too crowded for a key; it stays plain"),
        number="span",
    ),
    said(
        tr("A joint length of {span} mm is too short or too crowded for a tooth; it stays plain"),
        number="span",
    ),
    said(tr("Leave {need} mm of plain board, take smaller teeth or a key."), number="need"),
    said(tr("A seam lies away from every marked support")),
    said(tr("Put a batten below it, choose the half-lap, or move it to a support.")),
    said(tr("A piece ends in a {degrees}° tip that will break off"), number="degrees"),
    said(tr("Bend the seam so that it meets the edge squarely.")),
    said(tr("A seam runs into an edge along it, almost parallel")),
    said(tr("Turn the seam so that it meets the edge more squarely.")),
    # core.splitting.split
    said(tr("A seam runs through a joint that is re-cut for the measured thickness")),
    said(tr("Move the seam away from the slot.")),
    said(tr("The seams meet the outline in a way that cannot be cut cleanly")),
    said(tr("Move a seam by a few millimetres.")),
    # core.splitting.task
    said(tr("Seams cross in {crossings} places.")),
    said(tr("Seams cross in {crossings} place.")),
    said(tr("Symmetric, as the panel is.")),
    said(tr("All pieces are nearly the same size.")),
    said(tr("Every seam lies on a support.")),
    # core.test_pieces.fits
    said(tr("A series of fits needs a fit of zero or more and a count")),
    said(
        tr(
            "A slot drawn {drawn} mm and measured {measured} mm would make the {diameter} mm "
            "bit {real} mm"
        ),
        number="drawn measured diameter real",
    ),
    said(tr("Measure again, and check which bit was in the router.")),
    said(tr("A fit of {play} mm"), number="play"),
    said(tr("Give zero or more; a larger fit is looser.")),
    said(tr("A bit of {measured_bit} mm"), number="measured_bit"),
    said(tr("Give the diameter that was measured.")),
    said(tr('There is no material "{material}"')),
    said(tr("Add it in the Shop, or pick another.")),
    said(tr("The router has no {diameter} mm bit"), number="diameter"),
    said(tr("Add the bit in the Shop.")),
    # core.test_pieces.piece
    said(
        tr("A {diameter} mm bit cannot cut slots for a board of {thickness} mm"),
        number="diameter thickness",
    ),
    said(tr("Take a bit no thicker than the board.")),
    said(
        tr(
            "A test piece for a {thickness} mm board does not go into the bit's travel of "
            "{travel} × {travel2} mm"
        ),
        number="thickness travel travel2",
    ),
    said(tr("Correct the travel in the Shop, or try fewer fits.")),
    said(tr("There is no material to make a test piece for")),
    said(tr("Add the board in the Shop.")),
    said(tr("a {title} has neither teeth nor keys"), words="title"),
    said(tr("a joint of this style does not go on a test piece: {what}"), words="what"),
    said(tr("its teeth or keys are too large for a test piece")),
    said(
        tr(
            "Test piece for {material}, measured thickness {thickness}, bit {diameter}; total "
            "play {fits}."
        ),
        list="fits",
    ),
    said(
        tr(
            "Test piece for {material}, nominal thickness {thickness}, bit {diameter}; total "
            "play {fits}."
        ),
        list="fits",
    ),
    said(tr("It needs a scrap of that board of at least {project}, the grain along its length.")),
    said(
        tr(
            "The board has not been measured: measure it with a caliper first and enter the "
            "reading, or the slots test the wrong thickness."
        )
    ),
    said(tr("There is no seam joint on it: {no_teeth}."), words="no_teeth"),
    said(
        tr(
            "Cut it before anything else, with the bit, speeds and board of the job, and hold "
            "the small parts down: tabs, skin or a screw; follow the machine's manual."
        )
    ),
    said(
        tr(
            "Try both testers in every slot: one crosses the grain, the other runs with it. "
            "Glued joints should go together by hand without force."
        )
    ),
    said(
        tr(
            "Try both testers in every slot, the key in every pocket: one crosses the grain, "
            "the other runs with it. Glued joints should go together by hand without force."
        )
    ),
    said(
        tr(
            "Try both testers in every slot, their teeth in every socket: one crosses the "
            "grain, the other runs with it. Glued joints should go together by hand without "
            "force."
        )
    ),
    said(
        tr(
            "Enter the word or the play written beside the one that was right, along and "
            "across the grain; the larger becomes the fit for this board and this bit."
        )
    ),
    said(
        tr(
            "Measure the upright slot marked {fit} across its middle: it is drawn {width} "
            "wide, and what it measures over or under that is what the bit is over or under "
            "its diameter."
        ),
        number="fit",
    ),
    # core.test_pieces.result
    said(tr("The test piece has no result yet")),
    said(tr("Say which was right along or across the grain, by its word or its figure.")),
    said(tr("“{typed}” is not on the piece")),
    said(tr("Give one of {words}, or the figure beside the one that was right."), list="words"),
    said(tr("A fit of {typed}")),
    # core.test_pieces.told
    said(
        tr(
            "The fit of glued joints in {material} with the {diameter} bit is assumed: {play} "
            "across, {play2} a side"
        )
    ),
    said(
        tr(
            "The fit of knock-down joints in {material} with the {diameter} bit is assumed: "
            "{play} across, {play2} a side"
        )
    ),
    said(tr("Cut a test piece first and enter which fit was right.")),
    # core.units
    said(tr("“{text}” is no unit of length")),
    said(tr("Use mm, cm, m, in, ft or thou.")),
    said(tr("No length was given")),
    said(tr('Write it like 18, 17.6 mm, 23/32 in, 1 1/2" or 5\' 3".')),
    said(tr("“{shown}” is too long to be a length")),
    said(tr("“{shown}” has more than one decimal sign, so it can be read in two ways")),
    said(tr("Write it without marks between thousands, like 1234.5.")),
    said(tr("“{shown}” is too large to be a length")),
    said(tr("“{shown}” is below zero")),
    said(tr("“{shown}” is zero")),
    said(tr("Give a length above zero.")),
    said(tr("“{shown}” is no size")),
    said(tr("Write width x height, like 900x600 or 900x600x3.")),
    said(tr("“{shown}” gives a unit for the first length only")),
    said(tr("Write the unit behind the last length, or behind both.")),
    said(tr("The count in “{shown}” is no whole number above zero")),
    said(tr("Write the count last, like 1220x2440x3.")),
    said(tr("A length that is not finite cannot be shown")),
    said(tr("Fractions are for inches, in halves to 128ths")),
    said(tr("“{shown}” has a unit nobody knows: “{word}”")),
    said(tr("“{shown}” holds two numbers")),
    said(tr("Write one length, without gaps inside a number.")),
    said(tr("“{shown}” holds two lengths")),
    said(tr("“{shown}” divides by zero")),
    said(tr("The comma in “{shown}” may be a decimal sign or group thousands")),
    said(tr("Write {value} or {value2}.")),
    said(tr("“{shown}” is not a finite number")),
    said(tr("“{shown}” is no length")),
)
