"""Pure geometry and planning; no Qt, no printing, no global state.

Axes, once for all: x right, y up; outer rings counter-clockwise, holes clockwise; lengths in
mm, angles in degrees counter-clockwise. A sheet's or blank's origin is its lower left corner.
A view may flip y; core never does.
"""
