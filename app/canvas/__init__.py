"""The drawing surface shared by all stages, and the geometry of dragging on it."""
