"""What all tests share: hypothesis without a clock, since the first call compiles kernels."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
