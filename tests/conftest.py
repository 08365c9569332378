"""Settings for all tests."""

from hypothesis import settings

# a shared machine is now and then slow; slowness is no failure of what is tested
settings.register_profile("steady", deadline=None)
settings.load_profile("steady")
