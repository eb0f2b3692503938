"""Waiting for another number: at once where it is another one already, woken by a change, never longer than told."""

import asyncio

from stillwell.watch.changes import Changes


def test_another_number_is_there_at_once():
    assert asyncio.run(Changes(7).other_than(6, 60)) == 7


def test_nothing_new_is_not_waited_for_longer_than_told():
    assert asyncio.run(Changes(7).other_than(7, 0)) == 7


def test_every_waiter_is_woken_by_one_change():
    async def play():
        changes = Changes(7)
        waiting = [asyncio.create_task(changes.other_than(7, 60)) for _ in range(3)]
        await asyncio.sleep(0)
        changes.note()
        return await asyncio.gather(*waiting)

    assert asyncio.run(play()) == [8, 8, 8]


def test_a_change_between_two_waits_is_not_missed():
    async def play():
        changes = Changes(7)
        changes.note()
        return await changes.other_than(7, 60), await changes.other_than(8, 0)

    assert asyncio.run(play()) == (8, 8)
