"""Planning: what a grower decides, computed from chemistry and reference data."""
