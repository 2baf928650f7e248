"""Reference data: constants, compositions and plant profiles, one cited value per row."""
