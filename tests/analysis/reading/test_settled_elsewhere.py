"""Questions that another log settles. *Planted*: a dash with a nameless column, an ECU that names the channel."""

import pytest

from passband.analysis.channels.log import NoRunInLog
from passband.analysis.reading import read_log
from passband.analysis.reading.settled_elsewhere import without_settled_questions
from passband.analysis.results.doubt import AS_LOGGED, Doubt
from passband.analysis.results.findings import Finding
from passband.analysis.review import review
from tests.analysis.reading.hard_run import CAR, hard_run, printed, table, usual

RUN = hard_run()
TIME = {"Time [s]": printed(RUN.time_s, 3)}
DASH = {**TIME, "RPM": printed(RUN.engine_speed, 0), "Ana3 [%]": printed(100 * RUN.throttle, 1)}


def read(columns):
    return read_log(table(columns), name="x.csv")


def test_a_channel_of_another_file_is_not_asked_about():
    dash, ecu = read(DASH), read({**TIME, **usual(RUN)})
    assert [doubt.column for doubt in dash[0].doubts] == ["Ana3 [%]"]
    (beside, _), (alone,) = without_settled_questions([dash, ecu]), without_settled_questions([dash])
    assert beside[0].doubts == () and "throttle-unclear" not in [one.code for one in beside[0].findings]
    assert alone[0] == dash[0]


def test_a_log_whose_engine_speed_is_not_known_is_refused_with_what_could_be_it():
    log = read({**TIME, "CH07": printed(RUN.engine_speed, 0), "Throttle [%]": printed(100 * RUN.throttle, 1)})
    with pytest.raises(NoRunInLog, match=r"CH07 \([0-9]+ to [0-9]+\) could be it by the values"):
        review([log], car=CAR)


def test_a_doubt_is_left_without_what_is_settled_and_gone_where_nothing_else_is():
    # Hand: decided by codes, whatever the sentences say
    first, second = (Finding(code, "caution", text) for code, text in (("a", "One thing."), ("b", "Another.")))
    doubt = Doubt("x", "n", AS_LOGGED, "", "One thing. Another.", (), (), (first, second))
    assert doubt.without({"a"}).why == "Another." and doubt.without({"c"}) is doubt
    assert doubt.without({"a", "b"}) is None
