"""Random numbers: stateless, independent, well shaped."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pastepot.chance import HAND_LIMIT, Channel, hand, part_key, uniform, words

HERON, SNAIL = part_key("heron-head-front"), part_key("snail-shell")
FROZEN = ["9c076173", "95a0150d", "7841f802", "ad307456"]  # drawn by the package randomgen
TICKS = 50 * np.arange(20_000)
DRAWS = [(HERON, Channel.PLACE, 0), (SNAIL, Channel.PLACE, 0), (HERON, Channel.TURN, 0), (HERON, Channel.PLACE, 1)]


def test_channel_numbers_never_change():
    assert {c.name: c.value for c in Channel} == {
        "PLACE": 0,
        "TURN": 1,
        "SPACING": 2,
        "NUDGE": 3,
        "WEAVE": 4,
        "LIGHT": 5,
        "BOIL": 6,
        "TAKE": 7,
        "PLAN": 8,
        "LIFE": 9,
        "BUMP": 10,
        "ARC": 11,
    }


def test_a_films_look_never_changes():
    """Guards the layout of seed, part, channel, tick and lane: if this fails, every saved film would change."""
    drawn = words(2**40 + 7, part_key("kettle"), Channel.BOIL, -50, lane=3)
    assert [f"{int(w):08x}" for w in drawn] == FROZEN


def test_a_part_is_known_by_how_its_name_reads():
    assert part_key("h\u00e9ron") == part_key("he\u0301ron")
    assert part_key("heron") != part_key("Heron")
    assert 0 <= part_key("") < 2**32


def test_arguments_broadcast():
    parts = np.array([[HERON], [SNAIL]])
    for drawn in words(1, parts, Channel.PLACE, TICKS[:5]):
        assert drawn.shape == (2, 5)
        assert drawn.dtype == np.uint32
    assert uniform(1, HERON, 0, 0).shape == ()


integers = st.integers(-(2**31), 2**31 - 1)


@given(st.integers(), st.integers(0, 2**32 - 1), st.sampled_from(Channel), st.lists(integers, min_size=1, max_size=9))
def test_a_value_is_the_same_alone_and_in_company(seed, part, channel, ticks):
    together = np.array(words(seed, part, channel, ticks))
    alone = np.array([words(seed, part, channel, t) for t in ticks]).T
    assert (together == alone).all()


@given(st.integers(-(2**63), 2**63 - 1), st.integers(0, 2**32 - 1), st.integers(0, 7), integers, st.integers(0, 99))
def test_each_argument_counts(seed, part, channel, tick, lane):
    here = np.array(words(seed, part, channel, tick, lane))
    for other in (
        words(seed ^ 1, part, channel, tick, lane),
        words(seed ^ 1 << 40, part, channel, tick, lane),
        words(seed, part ^ 1, channel, tick, lane),
        words(seed, part, channel ^ 1, tick, lane),
        words(seed, part, channel, tick ^ 1, lane),
        words(seed, part, channel, tick, lane ^ 1),
    ):
        assert (here != np.array(other)).any()


def test_seeds_count_to_64_bits():
    assert uniform(-1, HERON, 0, 0) == uniform(2**64 - 1, HERON, 0, 0)
    assert uniform(2**64 + 5, HERON, 0, 0) == uniform(5, HERON, 0, 0)


def test_numpys_own_integers_do_as_a_seed():
    assert uniform(np.int32(-3), HERON, 0, 0) == uniform(-3, HERON, 0, 0)


@pytest.mark.parametrize("argument", ["part", "channel", "tick", "lane"])
def test_fractions_are_refused(argument):
    with pytest.raises(ValueError, match=f"{argument} must be of an integer type"):
        words(**{"seed": 1, "part": 1, "channel": 1, "tick": 1, argument: 0.5})


def test_hand_is_exactly_the_sum_it_says():
    w = [int(x) for x in words(5, HERON, Channel.PLACE, 50)]
    halves = [x for word in w for x in (word & 0xFFFF, word >> 16)]
    scale = np.sqrt(np.float64(3) / (2**32 - 1))
    a, b = hand(5, HERON, Channel.PLACE, 50)
    assert a == (sum(halves[:4]) - 131070) * scale
    assert b == (sum(halves[4:]) - 131070) * scale


@pytest.mark.parametrize("draw", DRAWS)
def test_hand_has_mean_nought_variance_one_and_a_bound(draw):
    part, channel, lane = draw
    for z in hand(3, part, channel, TICKS, lane):
        assert abs(z.mean()) < 4 / np.sqrt(z.size)
        assert abs(z.var() - 1) < 4 * np.sqrt(1.7 / z.size)  # kurtosis of Irwin-Hall n = 4 is 2.7
        assert abs(z).max() <= HAND_LIMIT < 2 * np.sqrt(3)
        assert 0.64 < (abs(z) < 1).mean() < 0.69  # a bell: 0.6667 for Irwin-Hall, 0.577 for an even spread


def test_uniform_is_even_and_below_one():
    u = uniform(9, HERON, Channel.TAKE, TICKS)
    assert u.min() >= 0
    assert u.max() < 1
    counts = np.histogram(u, bins=64, range=(0, 1))[0]
    chi_square = ((counts - u.size / 64) ** 2 / (u.size / 64)).sum()
    assert 63 - 45 < chi_square < 63 + 45  # 63 degrees of freedom, standard deviation 11.2


def test_nothing_goes_with_anything_else():
    rows = [z for part, channel, lane in DRAWS for z in hand(3, part, channel, TICKS, lane)]
    rows += list(hand(4, HERON, Channel.PLACE, TICKS))
    limit = 4.5 / np.sqrt(TICKS.size)
    for a, b in itertools.combinations(rows, 2):
        assert abs((a * b).mean()) < limit
        assert abs((a * a * b * b).mean() - 1) < 2 * limit
    for z in rows:
        for lag in (1, 2, 12, 24):
            assert abs((z[lag:] * z[:-lag]).mean()) < limit


def test_neighbouring_parts_and_ticks_share_no_bits():
    ticks, parts = np.meshgrid(np.arange(300), np.arange(300))
    for w in words(0, parts, Channel.WEAVE, ticks):
        for axis in (0, 1):
            flips = np.bitwise_xor(*(w.take(np.arange(k, 299 + k), axis) for k in (0, 1)))
            ones = np.unpackbits(flips.view(np.uint8)).mean()
            assert abs(ones - 0.5) < 4 * 0.5 / np.sqrt(flips.size * 32)
