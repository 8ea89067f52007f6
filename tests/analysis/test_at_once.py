"""What is found at once is what is found one after another."""

import threading

import polars as pl
import pytest

from passband.analysis.at_once import each_at_once


@pytest.mark.parametrize("total_bytes", [0, 100_000_000])
def test_what_is_found_stands_in_the_order_of_the_items(total_bytes):
    # hand
    assert list(each_at_once(lambda item: item * item, [3, 1, 2], total_bytes=total_bytes)) == [9, 1, 4]
    assert list(each_at_once(abs, [], total_bytes=total_bytes)) == []


def test_little_is_worked_on_where_it_is_asked_for():
    here = threading.get_ident()
    assert set(each_at_once(lambda item: threading.get_ident(), [1, 2, 3], total_bytes=1_000_000)) == {here}


@pytest.mark.parametrize("total_bytes", [0, 100_000_000])
def test_an_error_reaches_who_asked(total_bytes):
    with pytest.raises(ZeroDivisionError, match="by zero"):
        list(each_at_once(lambda item: 1 // item, [1, 0, 2], total_bytes=total_bytes))


def test_who_asks_works_too_and_nothing_twice():
    # hand: each other thread is held on its first item until the one that asks has done all that those do not hold
    here, others = threading.get_ident(), min(pl.thread_pool_size(), 6) - 1
    mine, enough = [], threading.Event()

    def work(item):
        if threading.get_ident() != here:
            return item, enough.wait(60.0)
        mine.append(item)
        if len(mine) >= 6 - others:
            enough.set()
        return item, True

    assert list(each_at_once(work, range(6), total_bytes=100_000_000)) == [(item, True) for item in range(6)]
    assert len(mine) >= 6 - others
