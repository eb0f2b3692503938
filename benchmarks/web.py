"""The pages over a year of record: how soon the first one is there, how large, and 200 of them kept up to date.

With ``--fast`` a month and 50 pages; else a year with a million reports, and its section of docs/benchmarks.md. Fails
where a page is slower or larger than asked for.
"""

import argparse
import asyncio
import json
import re
import statistics
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from threading import Thread

sys.path.insert(0, str(Path(__file__).parents[1]))

import httpx
from benchmarks.page import machine, table, write_section
from tests.web_browser import served
from tests.web_home import ALARM, NOW_MS, PASSWORD, Watching, csrf_in, events, fill, status, web_home

from stillwell.store.rows import EventRow

DAY_MS = 86_400_000
FIRST_PAGE_S = 1.0
FIRST_PAGE_BYTES = 300_000
WEEK_S = 0.3
REPEATED_DAYS = 14


def rows(days: int, many: int) -> tuple[EventRow, ...]:
    """Two invented weeks again and again, thinned out evenly to so many reports in all."""
    times = -(-days // REPEATED_DAYS)
    weeks = [row for row in events(NOW_MS, REPEATED_DAYS + 1) if row.at_ms >= NOW_MS - REPEATED_DAYS * DAY_MS]
    wanted = many // times
    weeks = [weeks[int(index * len(weeks) / wanted)] for index in range(wanted)]
    found = [
        replace(row, at_ms=row.at_ms - shift * REPEATED_DAYS * DAY_MS)
        for shift in range(times - 1, -1, -1)
        for row in weeks
    ]
    return tuple(replace(row, seq=seq) for seq, row in enumerate(found, 1))


def first_pages(store: str, folder: Path) -> tuple[list[list[str]], list[str]]:
    """Ask a server that has just begun for each page; return rows for the table, and what falls short."""
    home = web_home(folder, store)
    found, short = [], []
    with served(home) as address, httpx.Client(base_url=address, timeout=60) as client:
        token = csrf_in(client.get("/enter").text)
        client.post("/enter", data={"csrf": token, "name": "fitter", "password": PASSWORD})
        for name, path, most_s in (
            ("Today, the first time", "/today", FIRST_PAGE_S),
            ("Today, again", "/today", FIRST_PAGE_S),
            ("Record: a week, the first time", "/record", 3.0),
            ("Record: a week, again", "/record", WEEK_S),
            ("Plan", "/plan", FIRST_PAGE_S),
        ):
            begun = time.perf_counter()
            page = client.get(path)
            took_s = time.perf_counter() - begun
            size = len(page.content) + sum(len(client.get(one).content) for one in needed(page.text))
            found.append([name, f"{took_s * 1000:.0f} ms", f"{size / 1000:.0f} kB", f"{most_s * 1000:.0f} ms, 300 kB"])
            if page.status_code != 200 or took_s > most_s or size > FIRST_PAGE_BYTES:
                short.append(f"{name}: HTTP {page.status_code}, {took_s:.2f} s, {size} bytes")
    return found, short


def needed(html: str) -> list[str]:
    """The files that a page fetches by itself."""
    return re.findall(r'(?:href|src)="(/static/[^"]+)"', html)


class Ticking(Watching):
    """A watch in which something changes each second; what it says holds when it changed."""

    def tick(self) -> None:
        now_ns = time.monotonic_ns()
        self.says(status(alarms=(replace(ALARM, what=f"at {now_ns} ns"),)))


def serve(folder: Path, store: str) -> None:
    """Serve the home from a process of its own, until it is ended."""
    watching = Ticking()
    home = web_home(folder, store, watching)
    home.feed.wait_s, home.feed.pause_s = 15.0, 0.05

    def tick() -> None:
        while True:
            time.sleep(1)
            watching.tick()

    Thread(target=tick, daemon=True).start()
    with served(home) as address:
        print(address, flush=True)
        sys.stdin.read()


@contextmanager
def serving(folder: Path, store: str):
    command = [sys.executable, __file__, "--serve", str(folder), "--store", store]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stdin=subprocess.PIPE, text=True)
    try:
        yield process, process.stdout.readline().strip()
    finally:
        process.stdin.close()
        process.wait(30)


def many_pages(store: str, folder: Path, pages: int, seconds: int) -> tuple[list[list[str]], list[str]]:
    """Keep so many pages open; return rows for the table, and what falls short."""
    with serving(folder, store) as (process, address):
        alone = memory_mib(process.pid)
        busy_s = cpu_s(process.pid)
        late_s, opened_s = asyncio.run(_listen(address, pages, seconds))
        busy_s = cpu_s(process.pid) - busy_s
        together = memory_mib(process.pid)
    late = sorted(one for each in late_s for one in each)
    got = min(len(each) for each in late_s)
    worst = late[int(len(late) * 0.99)]
    found = [
        ["memory of the process, no page open", f"{alone:.0f} MiB", "-"],
        [f"with {pages} pages open", f"{together:.0f} MiB", "200 MiB"],
        [f"all {pages} opened within", f"{opened_s:.1f} s", "-"],
        ["a change is on a page after (median)", f"{statistics.median(late) * 1000:.0f} ms", "-"],
        ["the same, 99 of 100", f"{worst * 1000:.0f} ms", "2,000 ms"],
        ["changes that every page got", f"{got} of about {seconds}", "-"],
        ["processor, one change a second", f"{100 * busy_s / (seconds + opened_s):.0f} % of one core", "-"],
    ]
    short = [] if worst <= 2 and together <= 200 and got >= seconds / 2 else [f"{pages} pages: {found}"]
    return found, short


async def _listen(address: str, pages: int, seconds: int) -> tuple[list[list[float]], float]:
    limits = httpx.Limits(max_connections=pages + 5, max_keepalive_connections=pages + 5)
    async with httpx.AsyncClient(base_url=address, limits=limits, timeout=60) as client:
        token = csrf_in((await client.get("/enter")).text)
        await client.post("/enter", data={"csrf": token, "name": "family", "password": PASSWORD})
        begun, open_now, all_open = time.monotonic(), 0, asyncio.Event()
        opened_s = 0.0

        async def one() -> list[float]:
            nonlocal open_now, opened_s
            late: list[float] = []
            async with client.stream("GET", "/today/live") as news:
                first = True
                async for line in news.aiter_lines():
                    if first:
                        first, open_now = False, open_now + 1
                        if open_now == pages:
                            opened_s = time.monotonic() - begun
                            all_open.set()
                    if not line.startswith("data: ") or not all_open.is_set():
                        continue
                    if time.monotonic() - begun > opened_s + seconds:
                        return late
                    changed = re.search(r"at (\d+) ns", json.loads(line[6:])["pieces"].get("head", ""))
                    if changed:
                        late.append(time.monotonic() - int(changed[1]) / 1e9)
            return late

        return list(await asyncio.gather(*(one() for _ in range(pages)))), opened_s


def memory_mib(pid: int) -> float:
    return int(re.search(r"VmRSS:\s+(\d+)", Path(f"/proc/{pid}/status").read_text())[1]) / 1024


def cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / 100


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fast", action="store_true")
    parser.add_argument("--serve", type=Path)
    parser.add_argument("--store")
    given = parser.parse_args()
    if given.serve is not None:
        serve(given.serve, given.store)
        return
    days, many, pages, seconds = (30, 80_000, 50, 5) if given.fast else (365, 1_000_000, 200, 20)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        made = rows(days, many)
        store = fill(folder / "home.db", rows=made)
        (folder / "one").mkdir()
        (folder / "many").mkdir()
        first, short = first_pages(store, folder / "one")
        kept, more = many_pages(store, folder / "many", pages, seconds)
    said = (
        f"`python benchmarks/web.py`, {machine()}. The demo home, {len(made):,} reports of {days} days in its store, "
        "over loopback; sizes with style, scripts and marks, before a chart is opened."
    )
    text = "\n\n".join(
        [
            said,
            table(["page", "time", "size", "at most"], first),
            table([f"{pages} pages open", "measured", "at most"], kept),
        ]
    )
    print(text)
    if not given.fast:
        write_section("web", f"## The pages\n\n{text}")
    if short or more:
        sys.exit("\n".join(["falls short:", *short, *more]))


if __name__ == "__main__":
    main()
