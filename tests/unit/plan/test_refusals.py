"""Each mistake a person may make in a plan: its code, its line, and what is said about it.

A case replaces lines of a small plan. The lines on which problems must be told end in ``#!`` (several problems on
one line: one code each, in order of column).
"""

from pathlib import Path

import pytest

from stillwell.plan.read import read_plan
from stillwell.problem import Problem, Refusal

pytestmark = pytest.mark.base

SMALL = Path(__file__).with_name("small.toml").read_text("utf-8")

Case = tuple[str, list[tuple[str, str]], list[str], list[str]]

CASES: list[Case] = [
    # the shape of tables
    (
        "unknown key",
        [('supervision = "2h"', 'supervison = "2h" #!')],
        ["unknown-key"],
        ['parts.hall_pir, supervison): there is no key "supervison" here', "Did you mean supervision?"],
    ),
    (
        "unknown key with nothing like it",
        [('initial = "off"', 'initial = "off"\nwxyz = 3 #!')],
        ["unknown-key"],
        ["states.holiday, wxyz", "Keys here: initial, set_by, values."],
    ),
    ("unknown table", [("[upkeep]", "[upkep] #!")], ["unknown-key"], ['no table "upkep"', "Did you mean upkeep?"]),
    (
        "parts under the wrong name are told once, not once for each rule that needs them",
        [("[parts.hall_pir]", "[part.hall_pir] #!")],
        ["unknown-key"],
        ["Did you mean parts?"],
    ),
    (
        "the trade's other word",
        [('kind = "movement"', 'kind = "motion" #!')],
        ["not-allowed"],
        ['parts.hall_pir, kind): "motion" is not known here', "Did you mean movement? It is one of: movement, contact"],
    ),
    (
        "misspelt word",
        [('kind = "temperature"', 'kind = "temprature" #!')],
        ["not-allowed"],
        ["Did you mean temperature?"],
    ),
    (
        "missing key",
        [('[parts.bedroom_temp]\nkind = "temperature"', "[parts.bedroom_temp] #!")],
        ["missing-key"],
        ["parts.bedroom_temp, kind): kind is missing", 'Add a line such as: kind = "movement"'],
    ),
    (
        "missing key of an alarm",
        [('[[alarm]]\nname = "Cold"\nhazard = "cold"\n', '[[alarm]] #!\nname = "Cold"\n')],
        ["missing-key"],
        ['alarm "Cold", hazard): hazard is missing'],
    ),
    (
        "missing table",
        [('[resident]\nname = "Ada Hill"\n', ""), ("fits into it somewhere.", "fits into it somewhere. #!")],
        ["missing-key"],
        ["there is no [resident]", "Write [resident]"],
    ),
    (
        "number for text",
        [('name = "Ada Hill"', "name = 7 #!")],
        ["wrong-type"],
        ["resident, name): the number 7 does not fit here", "Write text in quotes."],
    ),
    (
        "text for a number",
        [("storeys = 2", 'storeys = "2" #!')],
        ["wrong-type"],
        ['the text "2" does not fit', "Write a whole number."],
    ),
    (
        "half a storey",
        [("storeys = 2", "storeys = 1.5 #!")],
        ["wrong-type"],
        ["the number 1.5 does not fit here", "Write a whole number."],
    ),
    (
        "text for yes or no",
        [('kind = "lamp"', 'kind = "lamp"\nmanual = "yes" #!')],
        ["wrong-type"],
        ["parts.hall_lamp, manual", "Write true or false."],
    ),
    (
        "text for a list",
        [('do = ["hall_lamp on"]', 'do = "hall_lamp on" #!')],
        ["wrong-type"],
        ['alarm "Cold", do', "Write a list in square brackets."],
    ),
    (
        "single brackets for a list of tables",
        [('[[never]]\nclaim = "kettle.on and holiday is on"', '[never] #!\nclaim = "holiday is on"')],
        ["wrong-type"],
        ["Write [[never]] in double brackets, once for each."],
    ),
    (
        "double brackets for named tables",
        [('[states.holiday]\nvalues = ["off", "on"]', '[[states]] #!\nvalues = ["off", "on"]')],
        ["wrong-type"],
        ["Write [states.name] in single brackets."],
    ),
    (
        "a rule that is a number",
        [('when = "no sign_of_life for 3h"', "when = 3 #!")],
        ["wrong-type"],
        ['alarm "No sign of life", when', "Write text in quotes."],
    ),
    (
        "a date where text belongs",
        [('timezone = "Europe/London"', "timezone = 2026-01-01 #!")],
        ["wrong-type"],
        ["a date or time does not fit here"],
    ),
    (
        "unit missing",
        [('supervision = "2h"', "supervision = 120 #!")],
        ["bad-duration"],
        ["120 has no unit", 'Say "120min" or "120h", in quotes.'],
    ),
    (
        "no duration",
        [('wait = "5min"', 'wait = "a while"'), ('"call", wait = "a while" },', '"call", wait = "a while" }, #!')],
        ["bad-duration"],
        ["calls.family, step 1, wait", "'a while' is no duration", "Say 90s, 10min"],
    ),
    (
        "capital letters in a name",
        [("[parts.kettle]", "[parts.Kettle] #!"), ("kettle.on and ", "")],
        ["bad-name"],
        ['"Kettle" cannot be a name', "small letters"],
    ),
    (
        "capital letters in a value",
        [('values = ["off", "on"]', 'values = ["off", "On"] #!'), ("kettle.on and holiday is on", "kettle.on")],
        ["bad-name"],
        ["states.holiday, values 2"],
    ),
    (
        "a blank at the end of a name",
        [('name = "Cold"', 'name = "Cold " #!')],
        ["bad-text"],
        ["blank at its end"],
    ),
    ("an empty name", [('name = "Ben"', 'name = "" #!')], ["empty"], ["people.ben, name): there is no text here"]),
    (
        "one room only",
        [('rooms = ["hall", "outside"]', 'rooms = ["hall"] #!')],
        ["too-few"],
        ["openings.front_door, rooms): this list is too short"],
    ),
    (
        "a room of two corners",
        [("[[0, 2], [4, 2], [4, 6], [0, 6]]", "[[0, 2], [4, 2]] #!")],
        ["too-few"],
        ["rooms.bedroom, outline): this list is too short", "Give at least 3."],
    ),
    (
        "a corner of three numbers",
        [("[[0, 2], [4, 2], [4, 6], [0, 6]]", "[[0, 2, 1], [4, 2], [4, 6]] #!")],
        ["too-many"],
        ["rooms.bedroom, corner 1): this list is too long", "Give at most 2."],
    ),
    (
        "millimetres",
        [("[[0, 2], [4, 2], [4, 6], [0, 6]]", "[[0, 2], [4000, 2], [4, 6]] #!")],
        ["out-of-range"],
        ["rooms.bedroom, corner 2, number 1): the number 4000 is too large", "The most is 1000."],
    ),
    ("infinity", [("storeys = 2", "position = [inf, 0] #!\nstoreys = 2")], ["out-of-range"], ["home, position 1"]),
    ("nowhere", [("storeys = 2", "position = [nan, 0] #!\nstoreys = 2")], ["out-of-range"], ["no finite number"]),
    ("south of the pole", [("storeys = 2", "position = [-91, 0] #!\nstoreys = 2")], ["out-of-range"], ["is -90."]),
    ("nobody to tell", [('whom = ["ben"], by', "whom = [], by"), ('wait = "5min" },', 'wait = "5min" }, #!')],
     ["too-few"], ["calls.family, step 1, whom", "Give at least 1."]),
    # the place
    (
        "missing zone",
        [('timezone = "Europe/London"', 'timezone = "Europe/Londn" #!')],
        ["unknown-zone"],
        ['home, timezone): there is no time zone "Europe/Londn"', "Did you mean Europe/London"],
    ),
    (
        "a night that is no matter of the calendar",
        [("storeys = 2", 'night = "hall_lamp.on" #!\nstoreys = 2')],
        ["calendar-only"],
        ["a matter of the calendar alone", "between 22:00 and 07:00"],
    ),
    (
        "reachable at a moment",
        [('reachable = "between 07:00 and 22:00"', 'reachable = "at 07:00" #!')],
        ["calendar-only"],
        ["people.ben, reachable): this is a moment"],
    ),
    (
        "the sun without a position",
        [('while = "between 22:00 and 07:00"', 'while = "between sunset and sunrise" #!')],
        ["position-missing"],
        ['aid "Lamp at night", while', "position = [degrees north, degrees east]"],
    ),
    (
        "an outline that crosses itself",
        [("[[0, 2], [4, 2], [4, 6], [0, 6]]", "[[0, 2], [4, 6], [4, 2], [0, 6]] #!")],
        ["outline-crosses"],
        ["rooms.bedroom, outline", "corners 1 and 3 meet", "once around the room"],
    ),
    (
        "a corner twice",
        [("[[0, 2], [4, 2], [4, 6], [0, 6]]", "[[0, 2], [4, 2], [4, 2], [0, 6]] #!")],
        ["outline-crosses"],
        ["corner 2 and the next stand in one place"],
    ),
    (
        "overlapping rooms",
        [("[[0, 2], [4, 2], [4, 6], [0, 6]]", "[[0, 1.5], [4, 1.5], [4, 6], [0, 6]] #!")],
        ["rooms-overlap"],
        ["bedroom and hall overlap by about 2.0 m2"],
    ),
    (
        "a room in a room",
        [("[[0, 2], [4, 2], [4, 6], [0, 6]]", "[[1, 1], [2, 1], [2, 2], [1, 2]] #!")],
        ["rooms-overlap"],
        ["about 1.0 m2: one lies in the other"],
    ),
    (
        "a storey too many",
        [("[rooms.bedroom]", "[rooms.bedroom]\nstorey = 2 #!")],
        ["unknown-storey"],
        ["there is no storey 2", "from 0 to 1"],
    ),
    (
        "a room called outside",
        [("[rooms.bedroom]", "[rooms.outside] #!"), ('room = "bedroom"', 'room = "hall"')],
        ["name-taken"],
        ['"outside" means out of doors'],
    ),
    (
        "an opening into nowhere",
        [('rooms = ["hall", "outside"]', 'rooms = ["hal", "outside"] #!')],
        ["unknown-room"],
        ['openings.front_door, rooms 1): there is no room "hal"', "Did you mean hall?"],
    ),
    ("an opening into itself", [('["hall", "outside"]', '["hall", "hall"] #!')],
     ["same-room"], ["two different rooms"]),
    ("a part nowhere", [('room = "hall"', 'room = "hallway" #!')], ["unknown-room"], ["Did you mean hall?"]),
    (
        "a contact on no door",
        [('opening = "front_door"', 'opening = "back_door" #!')],
        ["unknown-opening"],
        ['parts.front_contact, opening): there is no opening "back_door"'],
    ),
    (
        "a lamp on a door",
        [('kind = "lamp"', 'kind = "lamp"\nopening = "front_door" #!')],
        ["opening-misfit"],
        ["a part of kind lamp does not sit on a door"],
    ),
    ("a hub that is none", [('hold = "30s"\nhub = "hub"', 'hold = "30s"\nhub = "kettle" #!')], ["hub-kind"],
     ["kettle is of kind outlet and hears no other parts"]),
    ("no such hub", [('hold = "30s"\nhub = "hub"', 'hold = "30s"\nhub = "hubb" #!')], ["unknown-part"],
     ['there is no part "hubb"', "Did you mean hub?"]),
    (
        "hubs in a circle",
        [('[parts.controller]\nkind = "controller"', '[parts.controller]\nkind = "controller"\nhub = "hub" #!')],
        ["hub-in-a-circle"],
        ["controller -> hub -> controller"],
    ),
    (
        "lost between two heartbeats",
        [('supervision = "2h"', 'supervision = "20min" #!')],
        ["supervision-too-short"],
        ["speaks every 30min", "at best 2h or more"],
    ),
    ("an outlet on batteries", [('kind = "outlet"', 'kind = "outlet"\npower = "battery" #!')], ["power-misfit"],
     ["an outlet is on mains"]),
    ("a lamp that holds", [('kind = "lamp"', 'kind = "lamp"\nhold = "30s" #!')], ["hold-misfit"],
     ["a part of kind lamp has no hold time"]),
    # wiring of parts
    ("a reading without its topic", [('hold = "30s"', 'hold = "30s"\nreads = [{ signal = "movement" }] #!')],
     ["missing-key"], ["parts.hall_pir, reading 1, topic): topic is missing", "Add a line such as: topic ="]),
    ("a topic for many", [('hold = "30s"', 'hold = "30s"\nreads = [{ topic = "hall/#", signal = "movement" }] #!')],
     ["bad-text"], ['"hall/#" is no topic', "one whole topic"]),
    ("a pointer without its slash",
     [('hold = "30s"', 'hold = "30s"\nreads = [{ topic = "hall", signal = "movement", pointer = "seen" }] #!')],
     ["bad-text"], ['"seen" is no pointer', '"/battery/percent"']),
    ("a signal that the part does not report",
     [('hold = "30s"', 'hold = "30s"\nreads = [{ topic = "hall", signal = "open" }] #!')],
     ["unknown-signal"], ['a part of kind movement does not report "open"', "alive, battery, link_lost, movement"]),
    ("an edge that follows from a level",
     [('opening = "front_door"', 'opening = "front_door"\nreads = [{ topic = "door", signal = "opened" }] #!')],
     ["unknown-signal"], ["opened follows from open: read that."]),
    ("a yes for a number",
     [('room = "bedroom"',
        'room = "bedroom"\nreads = [{ topic = "t", signal = "temperature", values = { a = "yes" } }] #!')],
     ["values-misfit"], ["temperature is a number"]),
    ("a scale for what is no number",
     [('hold = "30s"', 'hold = "30s"\nreads = [{ topic = "t", signal = "movement", number = { times = 2.0 } }] #!')],
     ["number-misfit"], ["movement is no number"]),
    ("a word that means nothing known",
     [('hold = "30s"', 'hold = "30s"\nreads = [{ topic = "t", signal = "movement", values = { a = "maybe" } }] #!')],
     ["not-allowed"], ['"maybe" is not known here', "yes, no, unknown, nothing"]),
    ("one report for two parts",
     [('hold = "30s"', 'hold = "30s"\nreads = [{ topic = "t", signal = "battery" }]'),
      ('opening = "front_door"', 'opening = "front_door"\nreads = [{ topic = "t", signal = "battery" }] #!')],
     ["read-twice"], ["hall_pir reads the same battery"]),
    ("commands for a detector", [('hold = "30s"', 'hold = "30s"\ncommands = { topic = "hall/set" } #!')],
     ["commands-misfit"], ["takes no commands"]),
    ("a command that comes back",
     [('kind = "lamp"', 'kind = "lamp"\nreads = [{ topic = "l", signal = "on" }]\ncommands = { topic = "l" } #!')],
     ["topic-in-a-circle"], ["a topic of their own"]),
    ("on that is off", [('kind = "lamp"', 'kind = "lamp"\ncommands = { topic = "l", on = "x", off = "x" } #!')],
     ["same-command"], ["on and off send the same"]),
    ("a retention without its unit", [("storeys = 2", "storeys = 2\nretention = 400 #!")], ["bad-duration"],
     ["400 has no unit"]),
    # names
    ("one name for two things", [("[states.holiday]", "[states.kettle] #!"), ('"holiday is off"', '"kettle is off"'),
                                 ("holiday is on", "kettle is on")],
     ["name-taken"], ["kettle stands under [parts] too"]),
    ("a word of the language", [("[parts.kettle]", "[parts.within] #!"), ("kettle.on", "hall_lamp.on")],
     ["reserved-word"], ['"within" is a word of the rule language']),
    ("two hazards of one name", [('name = "cold"', 'name = "collapse" #!'), ('hazard = "cold"', 'hazard = "collapse"')],
     ["name-twice"], ['the name "collapse" is taken']),
    ("two alarms of one name", [('name = "Cold"', 'name = "No sign of life" #!')], ["name-twice"], ["is taken"]),
    ("an aid called like an alarm", [('name = "Lamp at night"', 'name = "Cold" #!')], ["name-twice"], ["this aid"]),
    ("a state that begins as nothing", [('initial = "off"', 'initial = "of" #!')], ["initial-not-a-value"],
     ["states.holiday, initial", "Did you mean off?"]),
    ("a value twice", [('values = ["off", "on"]', 'values = ["off", "on", "off"] #!')], ["value-twice"],
     ["states.holiday, values 3"]),
    ("a value no rule could name", [('values = ["off", "on"]', 'values = ["off", "on", "not"] #!')],
     ["reserved-word"], ['"not" is a word of the rule language']),
    ("a name without end", [("[parts.kettle]", f"[parts.{'k' * 61}] #!"), ("kettle.on and ", "")], ["bad-name"],
     ["at most 60 characters"]),
    ("a title without end", [('name = "Ben"', f'name = "{"B" * 121}" #!')], ["too-long"],
     ["this text is too long", "120 letters are the most"]),
    # people
    ("nobody of that name",
     [('whom = ["ben"]', 'whom = ["bem"]'), ('"call", wait = "5min" },', '"call", wait = "5min" }, #!')],
     ["unknown-person"], ["calls.family, step 1, whom 1", "Did you mean ben?"]),
    ("one person twice", [('["ben", "eve"]', '["ben", "ben"]'), ('"10min" },', '"10min" }, #!')], ["person-twice"],
     ["ben stands twice"]),
    ("a channel that one of them lacks", [('by = "text"', 'by = "call"'), ('"10min" },', '"10min" }, #!')],
     ["channel-missing"], ['calls.family, step 2, by): eve has no channel "call"', "Channels of eve: text."]),
    ("upkeep told to nobody", [('[upkeep]\ncall = "family"', '[upkeep]\ncall = "keeper" #!')], ["unknown-call-list"],
     ['upkeep, call): there is no call list "keeper"', "Call lists: family."]),
    ("an alarm that calls nobody", [('for 1h"\ncall = "family"', 'for 1h"\ncall = "famly" #!')], ["unknown-call-list"],
     ['alarm "Cold", call', "Did you mean family?"]),
    # hazards
    ("an alarm for nothing", [('hazard = "cold"', 'hazard = "colds" #!')],
     ["unknown-hazard"], ["Did you mean cold or"]),
    ("a hazard without its part", [('parts = ["bedroom_temp"]', 'parts = ["bedroom_tmp"] #!')], ["unknown-part"],
     ['hazard "cold", parts 1', "Did you mean bedroom_temp?"]),
    ("a part that cannot tell", [('parts = ["bedroom_temp"]', 'parts = ["hall_pir"] #!')], ["hazard-part-misfit"],
     ["hall_pir is of kind movement and cannot tell of cold", "Parts that can: temperature."]),
    ("cold through a door", [('parts = ["bedroom_temp"]', 'openings = ["front_door"] #!')], ["hazard-opening-misfit"],
     ["cold does not come through an opening"]),
    # rules
    ("a rule that stops", [('when = "no sign_of_life for 3h"', 'when = "no sign_of_life" #!')], ["bad-rule"],
     ["the rule stops too early", "no sign_of_life\n", "^", "Say for how long"]),
    ("a rule without a unit", [("no sign_of_life for 3h", "no sign_of_life for 3"), ('for 3"', 'for 3" #!')],
     ["bad-rule"],
     ["'3' does not fit here", "for 3\n                        ^\n", "A duration needs its unit: 3s, 3min or 3h."]),
    ("an unknown part", [('when = "hall_pir.movement"', 'when = "hal_pir.movement" #!')], ["rule-mistake"],
     ["there is no signal 'hal_pir.movement'", "Did you mean hall_pir.movement"]),
    ("a part without that signal", [('when = "hall_pir.movement"', 'when = "hall_pir.open" #!')], ["rule-mistake"],
     ["hall_pir has no signal 'open'", "hall_pir.movement"]),
    ("a mains part has no battery", [('when = "hall_pir.movement"', 'when = "kettle.battery < 20%" #!')],
     ["rule-mistake"],
     ["kettle has no signal 'battery'"]),
    ("a level for a pulse", [("no sign_of_life for 3h", "no kettle.on for 3h"), ('for 3h"', 'for 3h" #!')],
     ["rule-mistake"],
     ["kettle.on is a level"]),
    ("the wrong unit", [('14C for 1h"', '14% for 1h" #!')], ["rule-mistake"], ["measured in C, not in %"]),
    ("an unknown state", [('while = "holiday is off"', 'while = "holidays is off" #!')], ["rule-mistake"],
     ["Did you mean holiday?"]),
    ("a value it never has", [('while = "holiday is off"', 'while = "holiday is out" #!')], ["rule-mistake"],
     ["holiday is never 'out'", "off, on"]),
    ("a moment that should last", [('while = "between 22:00 and 07:00"', 'while = "door_opens" #!')], ["level-needed"],
     ['aid "Lamp at night", while', "1 (door_opens) within 10min"]),
    ("a claim that is a moment",
     [("kettle.on and holiday is on", "door_opens"), ('claim = "door_opens"', 'claim = "door_opens" #!')],
     ["level-needed"], ["never 1, claim"]),
    ("a number alone", [('when = "hall_pir.movement"', 'when = "bedroom_temp.temperature" #!')], ["bare-number"],
     ["bedroom_temp.temperature is a number"]),
    ("a signal that is a number", [("[signals]", '[signals]\nwarmth = "bedroom_temp.temperature" #!')], ["bare-number"],
     ["signals.warmth"]),
    ("signs of life that last", [('"hall_pir.movement or door_opens"', '"kettle.on" #!')],
     ["sign-of-life-kind"], ["must be a pulse"]),
    ("signals in a circle",
     [('door_opens = "front_contact.opened"', 'door_opens = "front_contact.opened or sign_of_life" #!')],
     ["signals-in-a-circle"], ["door_opens -> sign_of_life -> door_opens"]),
    ("a part that takes no commands", [('do = ["hall_lamp on"]', 'do = ["hall_pir on"] #!')], ["rule-mistake"],
     ["hall_pir takes no commands", "hall_lamp"]),
    ("a state set to nothing", [('do = ["hall_lamp on"]', 'do = ["set holiday to gone"] #!')], ["rule-mistake"],
     ["holiday is never 'gone'"]),
    ("an action that is none", [('do = ["hall_lamp on"]', 'do = ["hall_lamp blink"] #!')], ["bad-action"],
     ['alarm "Cold", do 1', "'blink' does not fit here"]),
    ("two orders for one lamp", [('do = ["hall_lamp on"]', 'do = ["hall_lamp on", "hall_lamp off"] #!')], ["do-twice"],
     ["hall_lamp is told twice"]),
    ("a rule that reads what it sets", [('while = "between 22:00 and 07:00"', 'while = "not hall_lamp.on" #!')],
     ["rules-in-a-circle"], ['"Lamp at night" sets hall_lamp', "Drop the test of hall_lamp"]),
    (
        "two rules that drive each other",
        [
            ('do = ["hall_lamp on"]', 'do = ["set holiday to on"]'),
            ('while = "between 22:00 and 07:00"', 'while = "holiday is on"'),
            ('14C for 1h"', '14C for 1h or hall_lamp.on" #!'),
        ],
        ["rules-in-a-circle"],
        ['"Cold" sets holiday, which is read by "Lamp at night" sets hall_lamp, which is read by "Cold"'],
    ),
    # several at once, and no problem that only follows from another
    (
        "several",
        [
            ('timezone = "Europe/London"', 'timezone = "Mars/Base" #!'),
            ('room = "bedroom"', 'room = "attic" #!'),
            ('kind = "lamp"', 'kind = "lamp"\ncolour = "red" #!'),
            ('name = "Eve"', "name = 1 #!"),
            ("no sign_of_life for 3h", "no sign_of_lif for 3h"),
            ('sign_of_lif for 3h"', 'sign_of_lif for 3h" #!'),
            ('do = ["hall_lamp on for 5min"]', 'do = ["hall_lamp on for 5min", "hall_pir off"] #!'),
        ],
        ["unknown-zone", "unknown-room", "unknown-key", "wrong-type", "rule-mistake", "rule-mistake"],
        [],
    ),
    (
        "a part of unknown kind: what rules say of it is left alone",
        [('kind = "temperature"', 'kind = "warmth" #!')],
        ["not-allowed"],
        [],
    ),
    ("a signal that cannot be read", [('"front_contact.opened"', '"front_contact.opened or" #!')], ["bad-rule"], []),
    ("a signal with a mistake", [('"front_contact.opened"', '"front_contact.opend" #!')], ["rule-mistake"], []),
    ("a state that cannot be read", [('values = ["off", "on"]', "values = 3 #!")], ["wrong-type"], []),
    ("a hazard without a name", [('[[hazard]]\nname = "cold"', "[[hazard]] #!")], ["missing-key"], ["hazard 2, name"]),
    ("a person without channels", [('channels = { text = "1min" }', "channels = {} #!")],
     ["too-few"], ["there is nothing here"]),
    ("a misspelt list of steps", [("steps = [", "step = [ #!")], ["unknown-key"], ["Did you mean steps?"]),
    ("rooms that are a number", [("[rooms.hall]", "[room.hall] #!")], ["unknown-key"], ["Did you mean rooms?"]),
]  # fmt: skip


def changed(changes: list[tuple[str, str]]) -> str:
    text = SMALL
    for old, new in changes:
        assert text.count(old) >= 1, f"not in the plan: {old}"
        text = text.replace(old, new, 1)
    return text


def problems_of(text: str) -> list[Problem]:
    with pytest.raises(Refusal) as refusal:
        read_plan(text, "home.toml")
    return list(refusal.value.problems)


def test_the_small_plan_itself_is_fine():
    assert len(read_plan(SMALL, "home.toml").parts) == 7


@pytest.mark.parametrize(("changes", "codes", "phrases"), [pytest.param(*c[1:], id=c[0]) for c in CASES])
def test_mistake(changes, codes, phrases):
    text = changed(changes)
    problems = problems_of(text)
    told = "\n".join(str(problem) for problem in problems)
    assert [problem.code for problem in problems] == codes, told
    marked = [number for number, line in enumerate(text.split("\n"), 1) if line.endswith("#!")]
    assert sorted({problem.place.line for problem in problems}) == marked, told
    assert all(problem.place.file == "home.toml" and problem.remedy for problem in problems)
    for phrase in phrases:
        assert phrase in told


def test_problems_come_in_the_order_of_lines():
    case = next(case for case in CASES if case[0] == "several")
    lines = [problem.place.line for problem in problems_of(changed(case[1]))]
    assert lines == sorted(lines)


def test_a_caret_stands_below_the_word_at_fault_also_in_a_text_of_several_lines():
    rule = '"""\nhall_pir.movement\nor front_contact.open"""'
    (problem,) = problems_of(SMALL.replace('"hall_pir.movement or door_opens"', rule))
    line = SMALL[: SMALL.index("sign_of_life =")].count("\n") + 3
    assert (problem.place.line, problem.place.column) == (line, 4)
    text, carets = problem.excerpt.split("\n")
    assert text[carets.index("^") : carets.rindex("^") + 1] == "front_contact.open"


@pytest.mark.parametrize(
    ("text", "line", "column", "phrase"),
    [
        ('[home]\nname = "x"\nname = "y"\n', 3, 11, "this key is there already"),
        ("[home\n", 1, 6, "must end with ]"),
        ("[home]\nname x\n", 2, 6, "neither a [table] nor a key = value"),
        ("[home]\nname = x\n", 2, 8, "Text stands in quotes"),
        ('[home]\nname = "x\n', 2, 10, "not closed"),
        ("[home]\n[home]\n", 2, 6, "this table is there already"),
        ("a = [1,\n2", 2, 2, "no closing ]"),
        ("a = {x = 1\n", 1, 11, "no closing }"),
        ('a = "\\q"', 1, 8, "means something in a text"),
        ("a = 1 2", 1, 7, "something follows the value"),
        ("a = 1\n[a.b]\n", 2, 5, "already"),
        ('a = """x', 1, 9, "no closing quote"),
    ],
)
def test_no_toml(text, line, column, phrase):
    (problem,) = problems_of(text)
    assert problem.code == "toml-syntax"
    assert (problem.place.line, problem.place.column) == (line, column)
    assert phrase in str(problem)


def test_the_mark_that_some_editors_put_first_does_no_harm():
    assert read_plan("\ufeff" + SMALL, "home.toml").home.name == "Small home"


def test_windows_line_ends_do_no_harm():
    assert read_plan(SMALL.replace("\n", "\r\n"), "home.toml") == read_plan(SMALL, "home.toml")


def test_an_empty_file_says_what_a_plan_needs():
    assert [problem.what for problem in problems_of("")] == ["there is no [home]", "there is no [resident]"]


@pytest.mark.parametrize("text", ["a = " + "[" * 3000 + "]" * 3000, "a = " + "[" * 20 + "]" * 20, "a." * 50 + "a = 1"])
def test_too_deep(text):
    (problem,) = problems_of(text)
    assert problem.code == "too-deep"


def test_a_huge_number():
    (problem,) = problems_of(f"a = {'9' * 5000}")
    assert problem.code == "toml-syntax"


def test_no_end_of_faults_is_cut_off_and_said_so():
    lines = "\n".join(f"x{number} = 1" for number in range(1000))
    problems = problems_of(SMALL.replace('kind = "lamp"', f'kind = "lamp"\n{lines}'))
    assert 300 <= len(problems) <= 301
    assert problems[-1].code == "more"
