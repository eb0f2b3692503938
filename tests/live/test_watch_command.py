"""`stillwell watch` and the commands beside it, as a person runs them: Mosquitto, a mail server, real processes."""

import json
import signal
import stat
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion
from tests.live.at_work import MAILED, AtWork, Letters, fetched, link_in, press
from tests.live.broker import free_port, until

from stillwell.control.place import announced
from stillwell.store.store import look_into
from stillwell.watch.health import UNSTEADY
from stillwell.watch.resume import fingerprint

HALL = "radio/hall"


@pytest.fixture
def letters():
    box = Letters()
    yield box
    box.stop()


@pytest.fixture
def watch(tmp_path, mosquitto, letters):
    """Make a watch, to be started; whatever it does, it is gone afterwards."""
    made = []

    def make(**options):
        made.append(AtWork(tmp_path, mosquitto.port, letters, **options))
        return made[-1]

    yield make
    for one in made:
        if one.process is not None and one.process.poll() is None:
            one.process.kill()
            one.process.wait()


def test_from_silence_to_an_answer(watch, letters):
    """Movement, three hours of silence, a letter, the button in it, and the screen says who looks after it."""
    home = watch(plan=MAILED.replace('supervision = "30min"', ""))
    home.start("--speed", "7200")  # three hours pass in 1.5 s
    home.publish(HALL, json.dumps({"seen": True, "battery": 80, "n": 1}))
    until(lambda: letters.to("ben@example.org", "No sign of life"), "Ben is told", 60)
    letter = letters.to("ben@example.org", "No sign of life")[-1]
    assert "ring Ada Hill or look in now" in letter
    assert "the emergency number comes first" in letter
    # Time is in a hurry: whoever is asked last has the newest link.
    until(lambda: _answered(home, letters), "an answer counts", 60)
    code, screen = home.run("status")
    assert code == 0
    assert "Trial home" in screen
    assert home.end(signal.SIGTERM) == 0
    facts = _facts(home)
    assert ("raised", "No sign of life", "") in facts
    assert any(what == "answered looking" and by == "ben" for what, _, by in facts)
    assert "nobody is safe by it" in home.shown()


def _answered(home, letters):
    press(link_in(letters.to("ben@example.org", "No sign of life")[-1]), "looking")
    return any(fact[0] == "acknowledged" for fact in _facts(home))


def _facts(home):
    opened = look_into(home.store)
    try:
        return [(row.what, row.subject, row.by_whom) for row in opened.facts(0, 2**53)]
    finally:
        opened.close()


def test_a_link_acknowledges_and_the_screen_says_so(watch, letters):
    home = watch()
    home.start()
    home.publish("stillwell/report/tap/wet", "yes")
    until(lambda: letters.to("ben@example.org", "Water"), "Ben is told")
    assert home.alarm("Water").sentence.endswith("and nobody has answered yet.")
    code, screen = home.run("status", "--strict")
    assert code == 1
    assert '1 alarm waits for an answer: "Water".' in screen
    assert "Told: Ben by mail" in screen

    page = press(link_in(letters.to("ben@example.org", "Water")[0]), "looking")
    assert "you have been looking after it" in page
    code, screen = home.run("status")
    assert (code, "Ben is looking after" in screen) == (0, True)
    answer = json.loads(home.run_apart("status", "--json")[1])
    (water,) = answer["alarms"]
    assert (answer["running"], water["state"], water["by"]) == (True, "acknowledged", "ben")
    assert [said["word"] for said in water["said"]] == ["looking"]

    home.publish("stillwell/report/tap/wet", "no")
    until(lambda: home.alarm("Water") is None, "the alarm is over")
    code, screen, _ = home.run_apart("status")
    assert (code, screen.splitlines()[1]) == (0, "All is quiet.")
    assert home.end(signal.SIGINT) == 0


def test_the_words_of_alarm_management(watch, letters):
    home = watch()
    home.start()
    home.publish("stillwell/report/tap/wet", "yes")
    until(lambda: letters.to("ben@example.org", "Water"), "Ben is told")
    assert home.run("alarm", "ack", "water", "--by", "eve")[0] == 0
    assert (home.alarm("Water").state, home.alarm("Water").by_name) == ("acknowledged", "Eve")
    code, said = home.run("alarm", "ack", "Water", "--by", "ben")
    assert (code, "Eve is looking after" in said) == (2, True)
    assert home.run("alarm", "shelve", "Water", "--for", "2h", "--why", "plumber", "--by", "ben")[0] == 0
    assert home.alarm("Water").state == "shelved"
    assert home.run("alarm", "back", "Water")[0] == 0  # by whoever is logged in
    assert home.alarm("Water").state == "unacknowledged"
    assert home.run("alarm", "out", "Water", "--why", "no pump any more")[0] == 0
    assert home.alarm("Water").state == "out of service"
    for wrong, right in (
        (("shelve", "Water", "--for", "30d", "--why", "x"), "7 days at most"),
        (("shelve", "Water", "--why", "x"), "--for 2h"),
        (("clear", "Water"), "out of service"),
        (("ack", "Watr"), "Did you mean Water?"),
        (("out", "No sign of life"), "why"),
    ):
        code, said = home.run("alarm", *wrong)
        assert (code, right in said) == (2, True), said
    assert home.end(signal.SIGTERM) == 0
    by = {(what, by) for what, subject, by in _facts(home) if subject == "Water"}
    assert {("answered looking", "eve"), ("shelved", "ben"), ("unshelved", "eve"), ("takenout", "eve")} <= by


def test_a_pause_is_bounded_shown_and_ends_early(watch):
    home = watch()
    home.start("--speed", "1")
    code, said = home.run("pause", "--for", "25h", "--why", "visitors")
    assert (code, "24 hours at most" in said) == (2, True)
    assert home.run("pause", "--for", "2h")[0] == 2  # no reason given
    assert home.run("pause", "--end")[0] == 2  # there is none to end
    assert home.run("pause", "--for", "2h", "--why", "visitors", "--by", "ben")[0] == 0
    pause = home.status().pause
    assert (pause.by, pause.why, pause.until_ms - pause.since_ms <= 2 * 3_600_000) == ("ben", "visitors", True)
    assert "by Ben: visitors." in home.run("status")[1]
    # It outlives the process, and still ends by itself.
    assert home.end(signal.SIGKILL) != 0
    home.start("--speed", "7200")
    until(lambda: home.status().pause is None, "the pause has ended by itself", 60)
    assert home.run("pause", "--for", "23h", "--why", "more visitors")[0] == 0
    assert home.run("pause", "--end")[0] == 0
    assert home.status().pause is None
    assert home.end(signal.SIGTERM) == 0


def test_a_drill_is_rung_through_and_its_times_are_kept(watch, letters):
    home = watch()
    home.start()
    code, said = home.run("drill", "Water", "--by", "eve", "--wait", "1s")
    assert (code, "nobody has answered yet" in said.casefold()) == (1, True)
    until(lambda: letters.to("ben@example.org", "Drill: Water"), "Ben is told")
    letter = letters.to("ben@example.org", "Drill: Water")[0]
    assert "nothing has happened, please do nothing but answer" in letter
    assert home.run("drill", "Water")[0] == 2  # one is on
    assert home.status().headline == "All is quiet."
    press(link_in(letter), "well")
    until(lambda: home.status().drills[0].answered_ms is not None, "the answer is there")
    (drill,) = home.status().drills
    assert (drill.alarm, drill.by, drill.told, drill.answered_by) == ("Water", "eve", ("Ben",), "Ben")
    assert 0 <= drill.told_ms - drill.begun_ms <= drill.answered_ms - drill.begun_ms
    assert "answered by Ben after" in home.run("status")[1]
    assert home.end(signal.SIGTERM) == 0
    assert ("drill answered", "Water", "ben") in _facts(home)


def test_a_changed_plan_is_compared_and_keeps_timers(watch, letters):
    home = watch(plan=MAILED.replace('supervision = "30min"', ""))
    home.start()
    home.publish("stillwell/report/tap/wet", "yes")
    until(lambda: letters.to("ben@example.org", "Water"), "Ben is told")
    raised_ms = home.alarm("Water").raised_ms
    plan = home.plan_file.read_text("utf-8")

    home.plan_file.write_text(plan.replace("for 3h", "for 6h"), "utf-8")
    code, said = home.run("change", str(home.folder))
    assert code == 1
    assert "Worse" in said
    assert '"collapse"' in said
    assert "Nothing was taken" in said
    assert home.run("change", str(home.folder), "--accept", "--by", "eve")[0] == 0
    assert home.run("change", str(home.folder))[1].splitlines()[-1] == "This is the plan that runs already."

    home.plan_file.write_text(plan.replace('name = "Lamp"', 'name = "Lamp for the button"'), "utf-8")
    code, said = home.run("change", str(home.folder), "--json")
    answer = json.loads(said)
    assert (code, answer["taken"], answer["worse"]) == (0, True, [])
    assert answer["better"]
    assert home.alarm("Water").raised_ms == raised_ms

    home.plan_file.write_text(plan.replace("for 3h", "fr 3h"), "utf-8")
    code, said = home.run("change", str(home.folder))
    assert (code, "home.toml:" in said) == (2, True)
    # A broken file is no reason not to watch: the plan that was accepted goes on, and that is shown.
    assert home.end(signal.SIGKILL) != 0
    home.start()
    assert "is not the plan in use" in " ".join(home.run("status", "--all")[1].split())
    assert home.alarm("Water").raised_ms == raised_ms
    assert home.end(signal.SIGTERM) == 0


def test_what_ails_the_watch_is_told_to_its_keepers_and_not_to_the_resident(watch, mosquitto, letters):
    """The broker goes, a part falls silent, the keeper outside does not answer. Time runs 600 times as fast."""
    plan = MAILED + '\n[people.ada]\nname = "Ada Hill"\nchannels = { mail = "30s" }\n'
    plan = plan.replace('[upkeep]\ncall = "family"', '[upkeep]\ncall = "system"').replace(
        "[upkeep]", '[calls.system]\nsteps = [{ whom = ["eve"], by = "mail", wait = "12h" }]\nthen = "repeat"\n[upkeep]'
    )
    nobody = '[people.ada]\nmail = "ada@example.org"\n[keeper]\nurl = "http://127.0.0.1:9"\nhome = "mill"\n'
    home = watch(plan=plan, settings=f'{nobody}key = "0123456789abcdef"\n')
    home.start("--speed", "600")
    mosquitto.kill()
    until(lambda: letters.to("eve@example.org", "no connection to the broker"), "Eve hears of the broker", 60)
    until(lambda: letters.to("eve@example.org", "the keeper outside does not answer"), "Eve hears of the keeper", 60)
    until(lambda: letters.to("eve@example.org", "hall pir has stopped reporting"), "Eve hears of the part", 60)
    assert letters.to("ada@example.org") == []
    assert letters.to("ben@example.org", "broker") == letters.to("ben@example.org", "hall pir") == []
    status = home.status()
    assert {"no connection to the broker", "the keeper outside does not answer"} <= {one.what for one in status.trouble}
    assert [part.name for part in status.lost_parts] == ["hall_pir"]
    assert status.keeper.answers is False
    assert home.run("status", "--strict")[0] == 1
    mosquitto.start()
    until(lambda: letters.to("eve@example.org", "over: no connection to the broker"), "Eve hears that it is back", 90)
    assert home.end(signal.SIGTERM) == 0


def test_what_nobody_knows_is_counted_and_shown(watch):
    port = free_port()
    home = watch(settings=f"[metrics]\nport = {port}\nopen = true\n")
    home.start()
    for payload in ("yes", "x" * 10):
        home.publish("stillwell/report/cellar/wet", payload)
    home.publish(HALL, b"\xff\xfe")
    until(lambda: sum(one.times for one in home.status().unread) >= 3, "all are counted")
    assert "2 messages from a part that the plan does not know (cellar/wet)" in home.run("status")[1]
    code, figures = fetched(f"http://127.0.0.1:{port}/metrics")  # open: without the key, but only these
    assert (code, 'stillwell_unread_total{reason="a part that the plan does not know"} 2' in figures) == (200, True)
    assert fetched(f"http://127.0.0.1:{port}/control/status")[0] == 401
    assert home.end(signal.SIGTERM) == 0


def test_the_control_way_and_the_figures_need_the_key(watch):
    home = watch()
    home.start()
    there = announced(home.store)
    assert stat.S_IMODE(Path(f"{home.store}.control").stat().st_mode) == 0o600
    assert stat.S_IMODE(Path(f"{home.store}.keys").stat().st_mode) == 0o600
    for path in ("/control/status", "/metrics"):
        for header in ({}, {"Authorization": f"Bearer {there.key}x"}, {"Authorization": f"Basic {there.key}"}):
            assert fetched(there.url + path, header)[0] == 401
        assert fetched(there.url + path, {"Authorization": f"bearer {there.key}"})[0] == 200
    # Neither is to be had where parts report and people answer.
    outside = json.loads(next(line for line in home.log().splitlines() if '"watching"' in line))["http"]
    for path in ("/control/status", "/metrics"):
        assert fetched(outside + path, {"Authorization": f"Bearer {there.key}"})[0] == 404
    assert fetched(f"{outside}/alive") == (200, "alive\n")
    assert home.end(signal.SIGTERM) == 0
    assert announced(home.store) is None
    assert there.key not in home.log() + home.shown()
    code, said = home.run("status")
    assert (code, "NOBODY WATCHES" in said, "left off at" in said) == (1, True, True)


def test_a_span_is_exported_and_erased(watch, letters):
    home = watch()
    home.start()
    for number in range(3):
        home.publish(HALL, json.dumps({"seen": True, "battery": 80 - number, "n": number + 1}))
    until(lambda: home.status().reports >= 6, "the reports are there")
    out = home.folder / "week.csv"
    code, said = home.run("export", str(home.folder), "--out", str(out))
    assert (code, "6 reports of 2 signals" in said) == (0, True), said
    assert home.run("inspect", str(out))[0] == 0
    everything = ("erase", "--from", "2020-01-01", "--until", "2100-01-01", "--why", "asked")
    assert home.run(*everything)[0] == 2  # nobody said yes
    code, said = home.run(*everything, "--yes")
    assert (code, "leave no trace" in said) == (0, True), said
    assert home.run("export", str(home.folder), "--out", str(out))[0] == 2  # there is nothing left
    assert home.end(signal.SIGTERM) == 0
    assert [what for what, _, by in _facts(home) if by == "eve"] == ["erased"]


def test_two_watches_on_one_store_are_one_too_many(watch):
    home = watch()
    home.start()
    code, said = home.run("watch", home.folder, "--store", home.store, "--settings", home.settings_file)
    assert (code, "in use" in said) == (2, True)
    assert home.status().home == "Trial home"
    assert home.end(signal.SIGTERM) == 0


def test_somebody_else_under_our_name_at_the_broker_is_told(watch, mosquitto, letters):
    """Each throws the other out (MQTT 5, 3.1.4): there is a connection again and again, and half of the reports."""
    home = watch()
    home.start()
    name = f"stillwell-{fingerprint('Trial home')}"
    other = Client(CallbackAPIVersion.VERSION2, client_id=name, clean_session=False)
    other.reconnect_delay_set(1, 1)
    other.connect("127.0.0.1", mosquitto.port)
    other.loop_start()
    try:
        until(lambda: letters.to("ben@example.org", UNSTEADY), "Ben hears of it", 90)
    finally:
        other.loop_stop()
        other.disconnect()
    assert home.end(signal.SIGTERM) == 0
