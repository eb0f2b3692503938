import pytest
from invented_home import MAPPING

from stillwell.problem import Refusal
from stillwell.record.mapping import read_mapping
from stillwell.record.matching import IGNORED, UNMATCHED, Matcher

pytestmark = pytest.mark.base


def refused(text):
    with pytest.raises(Refusal) as caught:
        Matcher(read_mapping(text, "home.toml"))
    return caught.value.problems


def test_a_mapping_says_what_each_source_becomes():
    matcher = Matcher(read_mapping(MAPPING))
    rows = matcher.rows_of("Move_K")
    assert matcher.outcomes[rows.by_value["1"]].signal == "kitchen_pir.movement"
    assert matcher.outcomes[rows.by_value["0"]].signal == "kitchen_pir.alive"
    battery = matcher.rows_of("Move_K.Battery")
    assert matcher.outcomes[battery.number].signal == "kitchen_pir.battery"
    assert matcher.units["kitchen_pir.battery"] == "%"
    assert matcher.rows_of("Clock").other == IGNORED
    assert matcher.rows_of("Move_X") is None
    assert rows.by_value.get("2", UNMATCHED) == UNMATCHED


def test_several_names_in_the_log_can_be_one_part():
    joined = MAPPING.replace('bathroom_pir = "Move_Ba"', 'bathroom_pir = ["Move_S", "Move_Ba"]')
    joined = joined.replace('shower_pir = "Move_S"\n', "")
    matcher = Matcher(read_mapping(joined))
    for name in ("Move_S", "Move_Ba"):
        assert matcher.outcomes[matcher.rows_of(name).by_value["1"]].signal == "bathroom_pir.movement"


@pytest.mark.parametrize(
    ("good", "bad", "what", "where"),
    [
        ('zone = "Europe/Paris"', 'zone = "Europe/Pariss"', "no time zone 'Europe/Pariss'", "zone"),
        ('separator = ";"', 'seperator = ";"', 'no key "seperator"', "log.seperator"),
        ('separator = ";"', 'separator = "semi"', "separates nothing", "log.separator"),
        ('separator = ";"', 'separator = ";"\nencoding = "utf-16"', "lines cannot be told apart", "log.encoding"),
        ('separator = ";"', 'separator = ";"\nencoding = "utf-7000"', "no encoding", "log.encoding"),
        ("time = 1", "time = 0", "greater than or equal to 1", "columns.time"),
        ("value = 3", "value = 3\nend = 4\nlength = 5", "not both", "columns"),
        ("value = 3", "", "no column for the value", "signal.1"),
        ('written_as = "%Y-%m-%dT%H:%M:%S.%f"', 'written_as = "%H:%M"', "fixes no date", "time.written_as"),
        ('kind = "number"', 'kind = "figure"', "'pulse', 'level' or 'number'", "signal.4.kind"),
        ('signal = "{part}.alive"', 'signal = "{part}.Alive"', "'{part}.Alive' is no such name", "signal.2.signal"),
        ('parts = "front_door"', 'parts = "*_gate"', "no part in [parts] is called '*_gate'", "signal.3.parts"),
        ('shower_pir = "Move_S"', 'shower_pir = "Move_K"', "both kitchen_pir and shower_pir", "parts.shower_pir"),
        ('unit = "%"', 'unit = "%"\nvalue = "1"', "a number has no 'value'", "signal.4.value"),
        ('value = "0"', 'value = "1"', "two rules claim the rows 'Move_B 1'", "signal"),
        (
            'signal = "{part}.open"',
            'signal = "{part}.movement"\nat_end = "{part}.alive"',
            "rows have no end",
            "signal.3.at_end",
        ),
        (
            'true = "1"\nfalse = "0"\nsignal = "{part}.open"',
            'signal = "{part}.open"',
            "which values of this level mean true?",
            "signal.3",
        ),
        ('why = "the recorder\'s own"', "", 'the key "why" is missing', "ignore.1.why"),
    ],
)
def test_a_mistake_is_told_where_it_is(good, bad, what, where):
    assert good in MAPPING
    (problem,) = refused(MAPPING.replace(good, bad, 1))[:1]
    assert what in problem.what
    assert problem.place.name == where
    assert problem.remedy or problem.what.startswith("input")
    if where != "signal":  # only the matcher sees that, and it knows no file
        assert problem.place.file == "home.toml"


def test_all_mistakes_come_at_once():
    bad = MAPPING.replace("time = 1", "time = 0").replace('zone = "Europe/Paris"', 'zone = "Paris"')
    assert {problem.place.name for problem in refused(bad)} == {"zone", "columns.time"}


def test_a_misspelt_key_is_told_with_the_right_one():
    (problem, *_) = refused(MAPPING.replace('separator = ";"', 'separator = ";"\nheader_line = 2'))
    assert problem.remedy == 'Did you mean "header_lines"?'


def test_one_signal_has_one_kind():
    bad = MAPPING.replace('signal = "{part}.battery"', 'signal = "{part}.link_lost"')
    assert "kitchen_pir.link_lost is level and number" in {problem.what for problem in refused(bad)}


def test_a_misspelt_zone_is_told_with_the_right_one():
    (problem,) = refused(MAPPING.replace("Europe/Paris", "Europe/Pariss"))
    assert problem.remedy.startswith("Did you mean Europe/Paris or ")


def test_what_is_no_toml_is_told_with_its_line():
    (problem,) = refused("zone = Europe")
    assert "no TOML" in problem.what
    assert "line 1" in problem.what
