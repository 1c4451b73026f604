"""A cluster of two processes, started once for all tests that show that it changes no digit."""

import pytest


@pytest.fixture(scope="session")
def cluster():
    """Yield a client of two worker processes of one thread each."""
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
