"""Settings for all tests."""

import os
import signal

import pytest
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


@pytest.fixture(scope="session")
def cluster():
    """Yield a client of two worker processes of one thread each, started once for all tests that ask."""
    from distributed import Client, LocalCluster  # noqa: PLC0415 - slow to import

    with (
        LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=True,
            dashboard_address=None,
            scheduler_kwargs={"dashboard_address": ":0"},  # its server takes any port that is free
        ) as made,
        Client(made) as client,
    ):
        client.wait_for_workers(2)
        yield client
