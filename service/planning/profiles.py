"""The table of plant profiles that kernels read: one row per profile."""
