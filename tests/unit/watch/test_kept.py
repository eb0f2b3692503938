"""A piece of the watch that breaks down begins anew, is told, and ends no other."""

import asyncio

from stillwell.watch.kept import SHOWN_MS, Kept, ended


def test_a_piece_that_breaks_down_begins_anew_and_is_shown_for_a_while():
    said, runs, now = [], [], [0]

    async def play():
        kept = Kept(lambda: now[0], lambda what, **about: said.append((what, about)), again_s=0)
        third = asyncio.Event()

        async def piece():
            runs.append(len(runs))
            if len(runs) == 3:
                third.set()
                await asyncio.Event().wait()
            raise ZeroDivisionError("mistake of ours")

        going = asyncio.create_task(kept.going("messages", piece))
        await third.wait()
        assert list(kept.troubles()) == ["a piece of the watch broke down and began anew (messages)"]
        now[0] = SHOWN_MS
        assert list(kept.troubles()) == []
        going.cancel()
        await asyncio.wait([going])
        return going.cancelled()

    assert asyncio.run(play())
    about = {"piece": "messages", "error": "ZeroDivisionError: mistake of ours"}
    assert said == [("a piece of the watch broke down", about)] * 2


def test_a_piece_whose_library_lost_the_wish_to_end_is_asked_again():
    """As ``asyncio.wait_for`` of Python 3.11 does where the answer comes just then (bpo-37658)."""

    async def play():
        lost = []

        async def piece():
            while True:
                try:
                    await asyncio.Event().wait()
                except asyncio.CancelledError:
                    if len(lost) == 2:
                        raise
                    lost.append("lost")

        pieces = [asyncio.create_task(piece()), asyncio.create_task(asyncio.Event().wait())]
        await asyncio.sleep(0)
        await ended(pieces, again_s=0)
        return lost, [one.cancelled() for one in pieces]

    assert asyncio.run(play()) == (["lost", "lost"], [True, True])
