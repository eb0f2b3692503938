"""Figures about a watch as text for a collector (Prometheus text exposition format, version 0.0.4).

Nothing about the resident is in them: no movement, no room, no last sign of life.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

from stillwell.alarms.life import State
from stillwell.control.shapes import Status

CONTENT_TYPE: Final = "text/plain; version=0.0.4; charset=utf-8"

_Samples = Sequence[tuple[dict[str, str], float]]


def exposition(status: Status, loop_lag_s: float, version: str) -> str:
    """Return the figures; ``loop_lag_s`` is how late the watch's own loop was at the last look."""
    return "".join(line + "\n" for line in _lines(status, loop_lag_s, version))


def _lines(status: Status, loop_lag_s: float, version: str) -> Iterator[str]:
    states = Counter(alarm.state for alarm in status.alarms if not alarm.drill)
    unread: Counter[str] = Counter()
    for one in status.unread:
        unread[one.reason] += one.times
    yield from _family("build_info", "gauge", "The program.", [({"version": version}, 1)])
    yield from _plain("start_time_seconds", "gauge", "When this process began.", status.started_ms / 1000)
    yield from _plain("reports_total", "counter", "Reports taken since then.", status.reports)
    yield from _plain("duplicates_total", "counter", "Reports that came twice, left out.", status.duplicates)
    yield from _plain("late_total", "counter", "Reports kept but too late for a decision.", status.late)
    yield from _family(
        "unread_total",
        "counter",
        "Messages that could not be used, since the store began.",
        [({"reason": reason}, times) for reason, times in sorted(unread.items())],
    )
    yield from _family(
        "alarms",
        "gauge",
        "Alarms by state, drills left out.",
        [({"state": str(state)}, states[str(state)]) for state in State if state is not State.NORMAL],
    )
    yield from _plain("parts", "gauge", "Parts in the plan.", len(status.parts))
    yield from _plain("parts_lost", "gauge", "Parts that count as lost.", len(status.lost_parts))
    yield from _plain("paused", "gauge", "Whether the watch is paused.", status.pause is not None)
    yield from _plain("messages_waiting", "gauge", "Messages to people not handed over yet.", status.messages_waiting)
    yield from _plain("commands_waiting", "gauge", "Commands to parts not done yet.", status.commands_waiting)
    yield from _plain("entries_in_memory", "gauge", "Entries the store has not taken yet.", status.kept_in_memory)
    yield from _plain("clock_ahead_seconds", "gauge", "Engine time ahead of the system.", status.clock_ahead_ms / 1000)
    yield from _plain("loop_lag_seconds", "gauge", "How late the watch's own loop was.", loop_lag_s)
    if status.keeper is not None:
        yield from _plain("keeper_answers", "gauge", "Whether the keeper outside answers.", status.keeper.answers)
    yield from _family(
        "trouble", "gauge", "What ails the watch itself.", [({"what": one.what}, 1) for one in status.trouble]
    )


def _plain(name: str, kind: str, help_: str, value: float) -> Iterator[str]:
    return _family(name, kind, help_, [({}, value)])


def _family(name: str, kind: str, help_: str, samples: _Samples) -> Iterator[str]:
    yield f"# HELP stillwell_{name} {help_}"
    yield f"# TYPE stillwell_{name} {kind}"
    for labels, value in samples:
        inside = ",".join(f'{label}="{_escaped(text)}"' for label, text in labels.items())
        yield f"stillwell_{name}{f'{{{inside}}}' if inside else ''} {float(value):.15g}"


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
