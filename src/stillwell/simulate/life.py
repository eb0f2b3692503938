"""A resident's life in a planned home over some days: who was where, when."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from stillwell.civiltime import find_zone, nearest_zone_names
from stillwell.plan.model import Plan
from stillwell.problem import refuse
from stillwell.simulate.agenda import Agenda, Person, agenda_of
from stillwell.simulate.draws import stream
from stillwell.simulate.house import House, house_of
from stillwell.simulate.walk import Pass, Stay, Walk, walk_through


@dataclass(frozen=True, slots=True)
class Life:
    """The resident's walk and those of the visitors, through one house over one span."""

    house: House
    zone: ZoneInfo
    agenda: Agenda
    resident: Walk
    visitors: tuple[Walk, ...]
    stays_by_room: dict[str, list[Stay]]

    def passes(self, opening: str) -> list[Pass]:
        """List when anybody went through an opening."""
        walks = (self.resident, *self.visitors)
        return [each for walk in walks for each in walk.passes if each.opening == opening]

    def awake_stays(self, room: str) -> Iterator[Stay]:
        """Go through the stays in which somebody is up and about in a room."""
        return (stay for stay in self.stays_by_room[room] if not (stay.asleep or stay.passing))


def live(plan: Plan, days: int, seed: int, start: date, person: Person | None = None) -> Life:
    """Draw a life, of a usual person where none is given.

    Refused where the plan's zone does not exist or the days are none.
    """
    zone = find_zone(plan.home.timezone)
    if zone is None:
        near = ", ".join(nearest_zone_names(plan.home.timezone)) or "Europe/London"
        raise refuse(f'there is no time zone "{plan.home.timezone}"', f"such as {near}", name="home, timezone")
    if days < 1:
        raise refuse(f"{days} days cannot be simulated", "at least 1 day", name="days")
    if seed < 0:
        raise refuse(f"the seed is {seed}", "a whole number from 0 on", name="seed")
    house = house_of(plan)
    agenda = agenda_of(zone, start, days, stream(seed, "agenda"), person)
    resident = walk_through(house, agenda.resident, stream(seed, "resident"))
    visitors = tuple(
        walk_through(house, visit, stream(seed, "visitor", str(number)), visitor=True)
        for number, visit in enumerate(agenda.visits)
    )
    by_room: dict[str, list[Stay]] = {room: [] for room in house.uses}
    for walk in (resident, *visitors):
        for stay in walk.stays:
            by_room[stay.room].append(stay)
    return Life(house, zone, agenda, resident, visitors, by_room)
