"""Routes, one module per capability."""
