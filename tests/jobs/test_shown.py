"""Three values of each field: shown, typed, recorded."""

import datetime as dt

from hypothesis import given
from hypothesis import strategies as st

from jobs.drafts.merge import mark, marks, merge

VALUES = st.sampled_from([None, "", "a", "b", 0, 1, 1.5, True])
FIELDS = st.dictionaries(st.sampled_from("pqr"), st.tuples(VALUES, VALUES, VALUES))


@given(FIELDS)
def test_nobody_s_work_is_overwritten_unseen(fields):
    """What is set is what was typed, never over something else that was recorded since; and a clash is just that."""
    shown = marks({name: before for name, (before, _, _) in fields.items()})
    typed = {name: mine for name, (_, mine, _) in fields.items()}
    recorded = {name: theirs for name, (_, _, theirs) in fields.items()}
    merged = merge(shown, typed, recorded)
    for name, (before, mine, theirs) in fields.items():
        moved_here, moved_there = mark(mine) != mark(before), mark(theirs) != mark(before)
        both_wrote = moved_here and moved_there and mark(mine) != mark(theirs)
        assert (name in merged.clashes) == both_wrote
        if name in merged.values:
            assert merged.values[name] is mine and not both_wrote
        else:
            assert moved_there, "only what someone else changed is left as it is"


def test_marks_tell_values_apart_and_know_the_same_again():
    noon = dt.datetime(2026, 3, 2, 12, 0, tzinfo=dt.UTC)
    assert mark(noon) == mark(noon.astimezone(dt.timezone(dt.timedelta(hours=-6))))
    assert mark("one\r\ntwo") == mark("one\ntwo")
    different = [None, "", "None", 0, False, 0.5, "0.5", dt.date(2026, 3, 2), noon]
    assert len({mark(value) for value in different}) == len(different)


def test_a_field_without_a_mark_takes_what_was_typed():
    merged = merge({}, {"note": "mine"}, {"note": "theirs"})
    assert (merged.values, merged.clashes) == ({"note": "mine"}, ())
