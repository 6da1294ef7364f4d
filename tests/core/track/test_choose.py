"""One mouth an exposure: what must be seen is seen, nothing flutters, everything ends at rest."""

from __future__ import annotations

import itertools
from fractions import Fraction

import numpy as np
import pytest
from pastepot.track import choose
from pastepot.track.choose import Timed, seen


def timed(text: str, start: float = 0.25, length: float = 0.1) -> list[Timed]:
    """Sounds one after another, each of that length; 'AA*3' is three times as long."""
    found, at = [], start
    for word in text.split():
        name, _, times = word.partition("*")
        end = at + length * float(times or 1)
        found.append(Timed(name, at, end))
        at = end
    return found


def run(text: str, mouths, fps: int = 12, lead: float = 0.0, length: float = 0.1) -> list[str]:
    sounds = timed(text, length=length)
    last = int(sounds[-1].end * fps) + 4
    starts = np.arange(last + 1)
    chosen = choose.choose(starts, last, Fraction(fps), seen(sounds, mouths), mouths, lead)
    return [mouths.mouths[n].name for n in chosen]


def test_silence_is_rest(mouths):
    found = choose.choose(np.arange(5), 4, Fraction(12), [], mouths())
    assert found.tolist() == [0] * 5


def test_begins_and_ends_at_rest(mouths):
    found = run("M AA*3 M IY*3", mouths())
    assert (found[0], found[1], found[-1], found[-2]) == ("rest",) * 4


def test_a_long_vowel_is_held(mouths):
    found = run("AA*8", mouths())
    assert found[3:11] == ["gape"] * 8


@pytest.mark.parametrize("fps", [12, 24, 25, 30])
@pytest.mark.parametrize("at", np.linspace(0, 1, 7, endpoint=False))
@pytest.mark.parametrize(
    ("sound", "mouth"), [("M", "rest"), ("B", "rest"), ("P", "rest"), ("F", "bite"), ("V", "bite")]
)
def test_a_short_closure_is_seen_wherever_it_falls(mouths, fps, at, sound, mouth):
    begin = 0.5 + at / 12
    sounds = [Timed("AA", 0.25, begin), Timed(sound, begin, begin + 0.03), Timed("AA", begin + 0.03, begin + 0.4)]
    starts = np.arange(2 * fps)
    chosen = choose.choose(starts, 2 * fps - 1, Fraction(fps), seen(sounds, mouths()), mouths())
    touched = chosen[int(begin * fps) : int(np.ceil((begin + 0.03) * fps))]
    assert mouth in [mouths().mouths[n].name for n in touched]


def test_lips_that_are_read_too_early_are_still_seen_when_they_are_shut(mouths):
    """A recogniser that let a B begin 35 ms early put its shut mouth on the exposure before it was spoken."""
    true, early = 5.1 / 12, 4.68 / 12
    sounds = [Timed("S", 3.8 / 12, early), Timed("B", early, 5.3 / 12), Timed("AA", 5.3 / 12, 8 / 12)]
    chosen = choose.choose(np.arange(12), 11, Fraction(12), seen(sounds, mouths()), mouths())
    assert mouths().mouths[chosen[int(true * 12)]].name == "rest"


def test_nothing_flutters_between_two_like_sounds(mouths):
    found = run("IH T IY S IH T S IY N IH", mouths(), length=0.07)
    there_and_back = sum(a == c != b for a, b, c in zip(found, found[1:], found[2:], strict=False))
    assert there_and_back == 0


def test_on_ones_at_24_no_mouth_is_shown_for_one_frame(mouths):
    found = run("AA*2 L IY*2 T AA*2 S UW*2", mouths(), fps=24, length=0.06)
    runs = [len(list(group)) for _, group in itertools.groupby(found)]
    assert min(runs) >= 2


def test_a_lead_brings_the_picture_forward(mouths):
    plain, leading = run("AA*8", mouths()), run("AA*8", mouths(), lead=1 / 12)
    assert leading.index("gape") == plain.index("gape") - 1


def test_exposures_of_the_plan_are_followed(mouths):
    starts = np.array([0, 2, 4, 7, 9, 12, 20])
    chosen = choose.choose(starts, 25, Fraction(24), seen(timed("AA*3 M*2 IY*3"), mouths()), mouths())
    assert chosen.shape == starts.shape


def test_h_looks_like_the_vowel_after_it(mouths):
    found = seen(timed("HH UW"), mouths())
    assert found[0].shape == found[1].shape


def test_a_glide_ends_in_its_second_shape(mouths):
    first, second = seen(timed("AW"), mouths())
    assert (first.end, first.shape.round < 0.5, second.shape.round) == (second.start, True, 1.0)


def test_a_louder_vowel_opens_further(mouths):
    quiet, loud = (seen([Timed("AH", 0.0, 0.1, db)], mouths())[0].shape.open for db in (-6.0, 6.0))
    assert quiet < 0.6 < loud


def test_the_persons_choice_for_a_sound_is_shown(mouths):
    assert "pea" in run("AA*5", mouths(fixed={"AA": 4}))


def test_rough_amounts_open_and_close(mouths):
    rough = choose.seen_roughly(0.25, 0.04, [0.0] * 3 + [0.9] * 10 + [0.0] * 10)
    chosen = choose.choose(np.arange(20), 19, Fraction(12), rough, mouths())
    assert 3 in chosen.tolist()
    assert chosen[0] == chosen[-1] == 0


def cost_of(path, cost, together, short) -> float:
    """The same sum, written out plainly."""
    total = sum(cost[e, m] for e, m in enumerate(path))
    total += sum(together[e, a, b] for e, (a, b) in enumerate(itertools.pairwise(path), 1))
    for e in range(1, len(path)):
        total += choose._CHANGE * (path[e] != path[e - 1])
    for e in range(2, len(path)):
        a, b, c = path[e - 2 : e + 1]
        total += choose._FLUTTER * (a == c != b) + short[e - 1] * (a != b != c)
    return float(total)


@pytest.mark.parametrize("seed", range(8))
def test_the_run_is_the_cheapest_of_all(seed):
    rng = np.random.default_rng(seed)
    exposures, count = 6, 3
    cost, together = rng.random((exposures, count)), rng.random((exposures, count, count))
    short = rng.random(exposures) * (seed % 2)
    found = choose._cheapest(cost, together, short)
    best = min(
        (cost_of(p, cost, together, short) for p in itertools.product(range(count), repeat=exposures)),
    )
    assert cost_of(found.tolist(), cost, together, short) == pytest.approx(best)
