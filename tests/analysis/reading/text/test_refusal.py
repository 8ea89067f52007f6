"""How a refusal quotes what it found."""

from passband.analysis.reading.text.refusal import quoted_lines, quoted_start


def test_what_cannot_be_printed_is_escaped_and_long_text_cut():
    assert quoted_start('a"b\x00\u202e') == '"a\'b\\x00\\u202e"'
    assert quoted_start("x" * 99, most=5) == '"xxxxx..."'


def test_the_first_lines_that_hold_anything():
    assert quoted_lines(["", "one", " ", "two", "three"]) == '"one", "two", ...'
    assert quoted_lines([]) == "nothing"
