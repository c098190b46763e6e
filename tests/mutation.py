"""For script/mutate: few examples of each property, always the same, in thousands of
runs. Loaded by ``-p``."""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "few",
    max_examples=10,
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("few")
