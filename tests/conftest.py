"""Settings for all tests."""

import os
import signal

from hypothesis import HealthCheck, Phase, settings

# Whoever only asks whether a test fails needs no small example: tests/break_formulas.py.
phases = [phase for phase in Phase if phase not in {Phase.shrink, Phase.explain}]

# A shell that starts the tests in the background has the keyboard's interrupt ignored, in all that they start
# as well; some tests send it.
signal.signal(signal.SIGINT, signal.default_int_handler)

# A busy machine is no fault of the code that is tested. What lands is judged on the same
# examples every time; at a desk they are drawn anew, and what they find becomes a test.
settings.register_profile(
    "unhurried",
    deadline=None,
    max_examples=20,
    derandomize=bool(os.environ.get("CI")),
    suppress_health_check=[HealthCheck.too_slow],
    phases=phases if os.environ.get("LINKCALC_ANY_EXAMPLE") else list(Phase),
)
settings.load_profile("unhurried")
