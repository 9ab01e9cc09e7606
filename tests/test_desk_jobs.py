"""Long work in a process of its own: progress, results, mistakes, and a stop that stops."""

import time

import pytest

from blendkit.desk.jobs import Workshop
from blendkit.errors import BlendkitError


@pytest.fixture(scope="module")
def workshop():
    opened = Workshop()
    yield opened
    opened.close()


def test_work_tells_how_far_it_is_and_gives_its_result(workshop):
    """The share only grows, the words follow, and the result is made by `then`."""
    job = workshop.start(
        "Count", "simulate.slow_work:count", 6, 0.05, then=lambda result: result["steps"] * 2
    )
    shares = []
    while not job.ended.wait(0.02):
        shares.append(job.view.share)
    assert job.view.state == "done"
    assert job.view.result == 12
    assert shares == sorted(shares)
    assert max(shares) > 0.3


def test_stopping_ends_running_work_at_once_and_the_next_goes_on(workshop):
    """A stop doesn't wait for the work to look; work that waits behind it is done."""
    long = workshop.start("Long", "simulate.slow_work:count", 1, 60.0)
    behind = workshop.start("Behind", "simulate.slow_work:count", 1, 0.0)
    while long.state != "running" or long.words != "opening step 1":
        time.sleep(0.01)
    workshop.stop(long.number)
    assert long.ended.wait(20)
    assert long.view.state == "stopped"
    assert behind.ended.wait(20)
    assert behind.view.state == "done"


def test_work_that_waits_can_be_stopped_before_it_begins(workshop):
    """It never starts."""
    first = workshop.start("First", "simulate.slow_work:count", 3, 0.1)
    second = workshop.start("Second", "simulate.slow_work:count", 1, 0.0)
    workshop.stop(second.number)
    assert second.ended.wait(20)
    assert second.view.state == "stopped"
    assert first.ended.wait(20)
    assert first.view.state == "done"


def test_a_mistake_comes_back_in_its_words(workshop):
    """Message and problems cross the processes."""
    job = workshop.start("Look", "simulate.slow_work:mistake")
    assert job.ended.wait(20)
    assert job.view.state == "failed"
    assert job.view.fault == {
        "message": "It is no picture.",
        "problems": [{"where": "file", "found": "text", "accepted": "a picture"}],
    }


def test_a_fault_of_our_own_is_said_to_be_one(workshop, capsys):
    """The person isn't blamed, and the trace goes to the terminal."""
    job = workshop.start("Break", "simulate.slow_work:fault")
    assert job.ended.wait(20)
    assert job.view.state == "failed"
    assert "fault of its own" in job.view.fault["message"]
    assert "ZeroDivisionError" in capsys.readouterr().err


def test_a_process_that_dies_is_told_and_the_next_work_is_done(workshop):
    """As when memory ran out."""
    job = workshop.start("Die", "simulate.slow_work:die")
    assert job.ended.wait(20)
    assert job.view.state == "failed"
    assert "ended before" in job.view.fault["message"]
    after = workshop.start("After", "simulate.slow_work:count", 1, 0.0)
    assert after.ended.wait(20)
    assert after.view.state == "done"


def test_an_unknown_number_is_refused(workshop):
    """A job that isn't known is a mistake in words."""
    with pytest.raises(BlendkitError, match="no longer known"):
        workshop.find("0000")


@pytest.mark.parametrize(
    ("limits", "function", "words"),
    [
        ({"most_seconds": 1.5}, ("simulate.slow_work:count", 1, 60.0), "not done after 1.5 seconds"),
        ({"most_mb": 400}, ("simulate.slow_work:swell",), "more memory than 0.4 GB"),
    ],
)
def test_a_job_has_a_ceiling_of_time_and_memory(limits, function, words):
    """It is ended there, says which it was and what to do, and the next is done."""
    small = Workshop(**limits)
    try:
        job = small.start("Grow", *function)
        assert job.ended.wait(20)
        assert job.view.state == "failed"
        assert words in job.view.fault["message"]
        assert "smaller picture" in job.view.fault["message"]
        after = small.start("After", "simulate.slow_work:count", 1, 0.0)
        assert after.ended.wait(20)
        assert after.view.state == "done"
    finally:
        small.close()
