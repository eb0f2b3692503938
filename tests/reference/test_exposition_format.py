"""The figures against the published text format of Prometheus, version 0.0.4.

Source: the Prometheus documentation, page "Exposition formats", section "Text format details", in our own words:
lines end in a line feed, the last one too; a line that begins with # is a comment unless HELP or TYPE follows;
HELP is followed by the metric's name and a text in which backslash and line feed are escaped; TYPE by the name and
one of counter, gauge, histogram, summary, untyped, once a metric and before its first sample; all lines of a
metric stand together; metric names match [a-zA-Z_:][a-zA-Z0-9_:]*, label names [a-zA-Z_][a-zA-Z0-9_]*; label
values escape backslash, quotation mark and line feed; a value is what Go's ParseFloat reads; each sample line is
unique in name and labels.
"""

import re

from tests.unit.watch.test_metrics import text_of

NAME = r"[a-zA-Z_:][a-zA-Z0-9_:]*"
LABEL = r'[a-zA-Z_][a-zA-Z0-9_]*="(?:[^"\\\n]|\\[\\"n])*"'
VALUE = r"[+-]?(?:Inf|NaN|(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)"
HELP = re.compile(rf"# HELP ({NAME}) (?:[^\\]|\\[\\n])*")
TYPE = re.compile(rf"# TYPE ({NAME}) (counter|gauge|histogram|summary|untyped)")
SAMPLE = re.compile(rf"({NAME})(?:\{{({LABEL}(?:,{LABEL})*)?\}})? {VALUE}(?: -?\d+)?")


def families(text):
    """Read the text as the page has it; return the lines of each metric, in order. Fails where a line is none."""
    assert text.endswith("\n")
    found, current = {}, None
    for line in text[:-1].split("\n"):
        match = TYPE.fullmatch(line) or HELP.fullmatch(line) or SAMPLE.fullmatch(line)
        assert match is not None, line
        name = match[1]
        if name != current:
            assert name not in found, f"the lines of {name} do not stand together"
            found[name], current = [], name
        found[name].append(line)
    return found


def test_every_line_is_one_of_the_format(tmp_path):
    found = families(text_of(tmp_path))
    assert len(found) > 10
    for name, lines in found.items():
        kinds = [line for line in lines if TYPE.fullmatch(line)]
        assert len(kinds) == 1, name
        assert sum(HELP.fullmatch(line) is not None for line in lines) == 1, name
        samples = [line.rpartition(" ")[0] for line in lines if SAMPLE.fullmatch(line)]
        assert len(set(samples)) == len(samples), name
        first_sample = min([lines.index(line) for line in lines if SAMPLE.fullmatch(line)], default=len(lines))
        assert lines.index(kinds[0]) < first_sample, name
        if kinds[0].endswith("counter"):
            assert name.endswith("_total")  # "Metric and label naming", best practices


def test_the_grammar_refuses_what_is_none():
    """The judge itself: lines that the page forbids do not pass."""
    for wrong in (
        "1name 3",
        'a{b="c} 1',
        'a{b="\\x"} 1',
        "a one",
        'a{9="x"} 1',
        "a",
        "# TYPE a meter",
        'a{b="c"d="e"} 1',
    ):
        assert [one for one in (SAMPLE, TYPE, HELP) if one.fullmatch(wrong)] == [], wrong
