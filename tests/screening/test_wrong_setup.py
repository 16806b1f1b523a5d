from dataclasses import replace

from evenhand.screening.screen import screen


def far_apart(bench, **more):
    return bench.made(bench.making(effect=0.25, visits=3, seed=4, **more))


def test_a_run_of_another_setup_is_found(bench):
    runs = far_apart(bench)
    keys = [r.key for r in runs]
    claimed = keys.index(replace(keys[0], setup="s0", visit=2, run=1))
    played = keys.index(replace(keys[0], setup="s1", visit=2, run=2))
    mixed = bench.changed(runs, claimed, runs[played].whole.ns)
    found = screen([r for i, r in enumerate(mixed) if i != played])
    (flag,) = [f for f in bench.doubts(found) if f.check == "wrong-setup"]
    assert flag.run == keys[claimed]
    assert "s1" not in flag.sentence


def test_a_whole_visit_under_another_setup_is_found(bench):
    """The setup was never changed: all runs of the visit agree with each other, and with another setup."""
    runs = far_apart(bench, visit=0.01)
    played = {(r.key.title, r.key.run): r for r in runs if (r.key.setup, r.key.visit) == ("s1", 2)}
    mixed = []
    for r in runs:
        if (r.key.setup, r.key.visit) == ("s0", 2):
            source = played[(r.key.title, r.key.run)]
            r = replace(r, whole=source.whole, cut=source.cut)
        if (r.key.setup, r.key.visit) != ("s1", 2):
            mixed.append(r)
    found = screen(mixed)
    wrong = {f.run for f in bench.doubts(found) if f.check == "wrong-setup"}
    assert wrong == {r.key for r in mixed if (r.key.setup, r.key.visit) == ("s0", 2)}


def test_setups_that_lie_apart_and_are_right_are_left_alone(bench):
    assert not [f for f in bench.doubts(screen(far_apart(bench))) if f.check == "wrong-setup"]


def test_setups_that_are_alike_are_named_as_untold(bench):
    alike = bench.made(bench.making(effect=0.0, run=0.03))
    untold = " ".join(screen(alike).untold)
    assert "any two of “s0”, “s1” and “s2” apart" in untold
    assert "needs a proof" in untold
