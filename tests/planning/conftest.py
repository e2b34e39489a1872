"""Settings shared by the tests of the planning core."""

from hypothesis import settings

# Two cores shared by many: the time an example takes says nothing here.
settings.register_profile("planning", deadline=None, max_examples=60)
settings.register_profile("search", deadline=None, max_examples=200, database=None)
settings.load_profile("planning")
