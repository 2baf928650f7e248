"""Chemistry: every equation of the service, written once as compiled scalar kernels."""
