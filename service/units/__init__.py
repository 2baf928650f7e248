"""Units: one canonical unit per quantity, converted at the edge alone."""
