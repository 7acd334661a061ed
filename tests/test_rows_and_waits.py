"""What the tests lean on: a table tried row by row names its faulty rows, and every wait ends."""

import re
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from tests.in_turn import each_of
from tests.patience import all_ended, killed, line_of, until

# of the whole program; a module's own name for it may be set: "benchwalk.records.lock.time"
THE_CLOCK = re.compile(r"""setattr\(\s*(time, "(?:monotonic|sleep)"|"time\.)""")


def test_every_faulty_row_is_named_with_its_own_fault():
    @each_of("number, square", [(1, 1), (2, 5), (3, 9), (4, 15)])
    def squares(number, square):
        assert number * number == square

    with pytest.raises(ExceptionGroup, match=r"2 of 4 rows: \['2 5', '4 15'\]") as told:
        squares()
    notes = [fault.__notes__ for fault in told.value.exceptions]
    assert notes == [["row: {'number': 2, 'square': 5}"], ["row: {'number': 4, 'square': 15}"]]


def test_a_row_that_raises_nothing_where_it_has_to_is_faulty_too():
    @each_of("text", ["x", "7"])
    def is_no_number(text):
        with pytest.raises(ValueError, match="invalid literal"):
            int(text)

    with pytest.raises(BaseExceptionGroup, match=r"1 of 2 rows: \['7'\]"):
        is_no_number()


def test_a_table_without_a_row_is_refused():
    with pytest.raises(AssertionError, match="no row of"):
        each_of("text", [])


@each_of("text", ["a", "b"])
def test_what_is_no_column_of_the_table_is_a_fixture(text, tmp_path):
    assert tmp_path.is_dir()
    assert text in "ab"


def test_a_child_that_says_nothing_is_ended():
    wait = [sys.executable, "-S", "-c", "import time; time.sleep(60)"]
    child = subprocess.Popen(wait, stdout=subprocess.PIPE, text=True)
    with pytest.raises(AssertionError, match=r"said nothing within 0\.2 s"):
        line_of(child, 0.2)
    assert child.wait(10) < 0
    killed(child)


def test_a_thread_that_goes_on_is_named():
    over = threading.Event()
    thread = threading.Thread(target=over.wait, args=(60,), name="a long one", daemon=True)
    thread.start()
    with pytest.raises(AssertionError, match=r"a long one still ran after 0\.1 s"):
        all_ended([thread], 0.1)
    over.set()
    all_ended([thread], 10)


def test_what_does_not_come_about_is_said():
    with pytest.raises(AssertionError, match=r"no rain within 0\.1 s"):
        until(lambda: False, "no rain", 0.1)
    until(lambda: True, "no rain")


def test_no_test_sets_the_clock_that_servers_and_waits_of_the_program_go_by():
    """A server's loop that reads a clock set back sleeps for hours, and the run does not end."""
    tests = Path(__file__).parent
    setting = [
        str(file.relative_to(tests))
        for file in sorted(tests.rglob("*.py"))
        if THE_CLOCK.search(file.read_text("utf-8"))
    ]
    assert setting == []
    assert THE_CLOCK.search("setattr(" + 'time, "monotonic", lambda: 0)')
