"""A replay as JSON: the names of the top level are a promise to programs."""

from collections.abc import Mapping, Sequence
from typing import Any

from stillwell.cli.answer import with_instants
from stillwell.cli.replayed import Replayed
from stillwell.record.text import iso
from stillwell.replay.compare import differences
from stillwell.replay.distribution import Spread
from stillwell.replay.rates import Rate
from stillwell.replay.silence import Silence
from stillwell.wording.durations import DAY_MS


def replay_answer(result: Replayed, other: Replayed | None, charts: Sequence[str]) -> dict[str, Any]:
    """Return all that a replay found; times are ISO 8601 UTC, durations seconds."""
    record, run = result.record, result.run
    return {
        "alarms": [
            {
                "alarm": moment.rule.name,
                "hazard": moment.rule.hazard,
                "raised_at": iso(moment.at_ms),
                "in_gap": moment.in_gap,
                "part": moment.rule.of_part,
            }
            for moment in result.alarms
        ],
        "per_30_days": rates_answer(run.rates),
        "notice_s": notice_answer(result.silence),
        "events": record.events,
        "malformed": record.malformed,
        "aids": [{"aid": moment.rule.name, "at": iso(moment.at_ms)} for moment in result.aids],
        "watched_days": run.watched_ms / DAY_MS,
        "span": {"start": iso(record.span[0]), "end": iso(record.span[1])},
        "gaps": with_instants(record.gaps),
        "outages": with_instants(result.losses),
        "broken_claims": [
            {
                "claim": result.plan.never[number].claim.text,
                "times": [{"start": iso(start), "end": iso(end)} for start, end in spans],
            }
            for number, spans in result.broken_claims()
        ],
        "unheard_parts": result.unheard,
        "unknown_parts": result.unknown,
        "compare": None if other is None else _comparison(result, other),
        "charts": list(charts),
    }


def rates_answer(rates: Mapping[str, Rate]) -> dict[str, Any]:
    """Return alarms per 30 days of watched time with the exact 95 % interval; null where it has no bound."""
    return {
        name: {"rate": rate.per_30_days, "low": rate.low, "high": rate.high, "count": rate.count}
        for name, rate in rates.items()
    }


def notice_answer(silence: Silence | None) -> dict[str, Any] | None:
    """Return the distribution of notice time, in seconds; null where somebody is never told of so many onsets."""
    if silence is None:
        return None
    hours = [{"hour": hour, **_spread(spread)} for hour, spread in enumerate(silence.by_hour)]
    return {**_spread(silence.whole), "alarms": list(silence.alarms), "by_hour": hours}


def _spread(spread: Spread) -> dict[str, Any]:
    return {
        "median": spread.median,
        "p95": spread.p95,
        "max": spread.max,
        "mean": spread.mean,
        "never_share": spread.never_share,
        "standing_share": spread.standing_share,
        "onsets_s": spread.weight_s,
    }


def _comparison(result: Replayed, other: Replayed) -> dict[str, Any]:
    return {
        "home": other.name,
        "rules": {
            name: {
                "count": found.first,
                "other_count": found.second,
                "only_here": [iso(at_ms) for at_ms in found.only_first],
                "only_there": [iso(at_ms) for at_ms in found.only_second],
            }
            for name, found in differences(result.run, other.run).items()
        },
        "per_30_days": rates_answer(other.run.rates),
        "notice_s": notice_answer(other.silence),
    }
