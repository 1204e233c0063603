"""Examples are not timed: on a busy machine any of them may take long once."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
