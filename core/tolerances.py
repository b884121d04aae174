"""The one home of every tolerance, with the reason for its size. Lengths in mm, areas in mm²."""

# --- numbers and polygons ---------------------------------------------------------------
SAME_POINT_MM = 1e-6  # vertices closer than this are one vertex
FLATTEN_SAGITTA_MM = 0.005  # greatest distance of a flattened curve from the true arc
AREA_REL = 1e-6  # outlines of a panel's pieces partition it to this share of its area
FIT_REL = 1e-9  # "fits exactly" is a fit: sizes compare with this relative slack

# --- reading drawings -------------------------------------------------------------------
GAP_SILENT_MM = 0.01  # loose ends this close are joined without a word
GAP_NOTICE_MM = 0.1  # up to here a closed gap is a note
DRAWN_EDGE_MM = 1e-3  # a shorter edge is left out of a drawing: programs stumble over it
SAME_SHAPE_MM = 1e-4  # two shapes on one layer this close in every corner are drawn twice
OVERLAP_TOL_MM = 1e-3  # edges this close to one line or circle lie on it
GAP_LADDER_MM = (1e-3, 0.01, 0.05, 0.1, 0.25, 0.5)  # gaps are tried in this order
SAME_RING_MM = 1e-3  # rings this close all along are one ring drawn twice
CURVE_SAGITTA_MM = 0.0025  # splines and ellipses are flattened this finely before arcs are fitted
CURVE_ARC_MM = 0.005  # a fitted arc stays this close to the flattened curve
OVERSHOOT_MM = 2.0  # a line may run past the corner it was meant to end in by this, and is trimmed
SPECK_MM2 = 0.01  # a closed shape smaller than this is dirt in the drawing, not a cut
GAP_ASK_MM = 0.5  # up to here a closed gap is a warning to look at; beyond, it stays open

LARGEST_PLAUSIBLE_MM = 3500.0  # no sheet is longer: larger panels mean the unit is wrong
SMALLEST_PLAUSIBLE_MM = 10.0  # a largest panel below this means the unit is wrong
LEAST_OPENING_MM = 1.0  # a hole or slot narrower than this is not cut with any usual bit
MOST_TOUCHING_CORNERS = 4000  # corners of one outline looked at for touching its own edges
FAR_OUT_MM = 1e5  # beyond this a whole-mm origin is subtracted, so that digits are left

NOMINAL_TOL_MM = 0.1  # a slot this close to a nominal thickness was drawn for it
COMB_DEPTH_TOL_MM = 0.25  # teeth may be drawn a little proud of the mate's thickness
REFIT_ASK_MM = 0.3  # further from nominal by up to this: the maker is asked
SAME_WALL_MM = 1e-3  # a piece's edge this close to a drawn wall is that wall
SYMMETRY_TOL_MM = 0.2  # a panel's halves may differ by this and still be mirror images

REREAD_TOL_MM = 0.05  # a drawing read again may differ by this and be the same

# --- joints -----------------------------------------------------------------------------
GAP_TOL_MM = 1e-3  # a flank's gap may differ from the one asked by this much
OVERLAP_AREA_MM2 = 1e-3  # mates' cuts may overlap by no more than numerical dust

# --- layouts ----------------------------------------------------------------------------
LYING_ON_MM2 = 1.0  # a piece lies on an offcut with more than touching edges share by rounding
ON_WALL_MM = 0.01  # what closing an outline's notches fills lies on it to well within this
LAYOUT_DISTANCE_MM = 1e-3  # placed pieces may miss the stated spacing by no more than this
LAYOUT_OVERLAP_REL = 1e-6  # pieces may share this part of the smaller one's area: number dust
LAYOUT_TURN_DEG = 1e-6  # a turn this close to an allowed one is that one
SLANT_TOLD_DEG = 0.5  # a piece tried at a turn this far from square is said to be turned
NEST_HAIR_MM = 1e-4  # spacing is kept short by this in the search, so that exact fits stay open
NEST_HAIR_REL = 5e-8  # the same without spacing, as a part of the smallest piece's size
NEST_SMALLEST_AREA_MM2 = 1e-9  # an outline with less is a line or a point

# --- paths and seams --------------------------------------------------------------------
SAME_CIRCLE_MM = 1e-5  # mates' arcs whose centres and radii agree to this are of one circle
SMOOTH_TURN_RAD = 1e-6  # two edges that meet at less than this run on smoothly
ON_CARRIER_MM = 1e-4  # a flattened vertex this near a circle lies on it (sagitta is 50 x more)

# --- moving pieces by hand ----------------------------------------------------------------
CONTACT_SKIN_MM = 1e-4  # a piece slid against another stops this far before the exact distance

# --- holding ------------------------------------------------------------------------------
TAB_RING_MM = 0.1  # a bit's path is taken this roughly where tabs are looked for

# --- sawing -----------------------------------------------------------------------------
SAW_TOL_MM = 1e-5  # cuts and edges this close are in line
SAW_UNITS_PER_MM = 10**8  # saw parts are planned in whole numbers of this part of a mm
SAW_SAME_MM = 1e-6  # sizes that differ by less are the same: inch fractions, thirds of a sheet
BIT_ROOM_MM = 0.1  # inside radii are made this much larger than the bit, so that it turns freely
END_OVERSHOOT_MM = 0.5  # a seam line that ends this near an edge was meant to reach it
SLIVER_MM2 = 0.01  # clipped shapes smaller than this are rounding, not board
NEST_SIMPLIFY_MM = 0.1  # outlines of very many vertices may be searched so much larger
FILM_MM = 0.01  # an uncut spot thinner than this is a film between chords, not wood
COLLISION_MM = 0.01  # mates as simulated overlap by less than this from chords alone
FINE_SAGITTA_MM = 5e-4  # curves are flattened this finely where the bit itself is simulated
DEPTH_SAME_MM = 1e-6  # a bit this much too short for a cut is long enough: inch fractions
BIT_SLACK_MM = 2e-3  # a simulated bit is this much thinner, so that it runs in its own curve
MATCHED_MM = 1e-6  # pieces this near their place in their panel are kept there as one body
MATCHED_ACROSS_MM = 1.0  # pieces shifted no more than this across their row show one grain
MATCHED_ALONG_MM = 150.0  # ...and pieces no farther than this from their neighbour along it
FLUSH_MM = 0.1  # faces of boards this near in thickness are sanded flush: a paper's width
WELD_MM = 5e-3  # corners of joined shapes this near are one corner drawn twice

# --- paper ------------------------------------------------------------------------------
FREED_SAME_MM = 0.5  # a sawn part this close to a blank's outline is that blank: sawing accuracy
SAME_BOARD_MM = 1.1  # boards sold this near each other stand in for one another: 18 mm, 3/4 in
