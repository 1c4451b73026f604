"""Settings for all tests."""

from hypothesis import HealthCheck, settings

# A busy machine is no fault of the code that is tested.
settings.register_profile(
    "unhurried", deadline=None, max_examples=20, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("unhurried")
