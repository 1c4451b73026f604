"""Processes that work for a study."""

from __future__ import annotations

import os

import pytest

from linkcalc.errors import InputError
from linkcalc.study.running import Workers, call_in, worked

TASKS = [(2,), (3,), (5,), (7,)]


@pytest.mark.parametrize("jobs", [1, 2])
def test_every_task_has_its_result(jobs):
    found = dict(worked(abs, [(-each,) for (each,) in TASKS], Workers(jobs)))
    assert found == {place: each for place, (each,) in enumerate(TASKS)}


def test_a_process_that_was_prepared_has_the_environment_of_today(monkeypatch):
    call_in(Workers(2), "linkcalc.study.combinations")
    for word in ("calm", "gusty"):
        monkeypatch.setenv("LINKCALC_TEST_WEATHER", word)
        tasks = [("LINKCALC_TEST_WEATHER",)] * 3
        assert [found for _, found in worked(os.getenv, tasks, Workers(2))] == [word] * 3


def test_fewer_than_one_process_are_refused():
    call_in(Workers(0), "linkcalc.study.combinations")
    with pytest.raises(InputError, match="one or more"):
        list(worked(abs, TASKS, Workers(0)))
