"""Time zones by name, and what a misspelt name was meant to be."""

from difflib import get_close_matches
from functools import lru_cache
from zoneinfo import ZoneInfo, available_timezones

# Names in the zone directory that stand for no place: one means "whatever this computer is set to", which
# would make a plan mean different things on different computers; the other is a placeholder.
_NO_PLACE = frozenset({"Factory", "localtime"})


def find_zone(name: str) -> ZoneInfo | None:
    """The zone of exactly this IANA name ("Europe/London"), or None where there is none.

    Only listed names count: no paths, no folders ("Europe"), no other spelling of capitals, and none of the
    leap-second twins that some systems keep beside the real zones.
    """
    return ZoneInfo(name) if name in _known_names() else None


def nearest_zone_names(name: str, count: int = 3) -> list[str]:
    """Up to `count` known zone names that `name` may have been meant for, likeliest first; may be empty.

    A town alone is enough ("new york"); small slips and capitals do not matter.
    """
    wanted = name.strip().replace(" ", "_").casefold()
    known = sorted(_known_names())
    by_whole: dict[str, list[str]] = {}
    by_town: dict[str, list[str]] = {}
    for each in known:
        folded = each.casefold()
        by_whole.setdefault(folded, []).append(each)
        by_town.setdefault(folded.rsplit("/", 1)[-1], []).append(each)
    town = wanted.rsplit("/", 1)[-1]
    whole_matches = get_close_matches(wanted, by_whole, count, 0.75)
    town_matches = get_close_matches(town, by_town, count, 0.75)
    found = [each for match in whole_matches for each in by_whole[match]]
    found += [each for match in town_matches for each in by_town[match]]
    return list(dict.fromkeys(found))[:count]


@lru_cache(maxsize=1)
def _known_names() -> frozenset[str]:
    return frozenset(available_timezones() - _NO_PLACE)
