"""The index of lines agrees with tomllib about what there is."""

import tomllib

from evenhand.study.lines import line_index, line_of

TEXT = '''\
# a note with "quotes" and [brackets]
top = 1
"quoted.key" . sub = "a # b"

[one]   # note
a = [ 1, # first
  2,
  { x = 1, y = [ "]", '}' ] },
]
b = """
c = 5
\\""" still
""" # done
c = \'\'\'
[no]
\'\'\'
d.e.f = 1979-05-27T07:32:00Z
[[many]]
n = 0
[[many.inner]]
m = 1
[[many.inner]]
m = 2
[[many]]
n = 1
[many.sub]
s = {}
[[many.inner]]
m = 3
'''


def paths_of(value, path=()):
    if path:
        yield path
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield from paths_of(inner, (*path, key))


def test_every_value_has_its_line():
    lines = line_index(TEXT)
    rows = TEXT.splitlines()
    for path in paths_of(tomllib.loads(TEXT)):
        assert path in lines, path
        last = next((p for p in reversed(path) if isinstance(p, str)), "")
        if isinstance(path[-1], str):
            assert last in rows[lines[path] - 1], (path, lines[path])
    assert lines["one", "a", 2, "y"] == 8
    assert lines["one", "c"] == 14
    assert lines["one", "d", "e", "f"] == 17
    assert [lines["many", i] for i in (0, 1)] == [18, 24]
    assert lines["many", 0, "inner", 1, "m"] == 23
    assert lines["many", 1, "inner", 0, "m"] == 29
    assert lines["many", 1, "sub", "s"] == 27


def test_what_is_missing_is_placed_where_it_belongs():
    lines = line_index("[a]\nb = 1\r\n\r\n[[c]]\nd = 2\n")
    assert line_of(lines, ("c", 0, "missing")) == 4
    assert line_of(lines, ("nowhere",)) is None
