"""The HTTP layer: schemas, formats, problems and routes; it computes nothing."""
