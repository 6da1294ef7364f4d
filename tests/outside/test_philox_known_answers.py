"""Philox against answers that others published or computed.

Sources: Random123 (D. E. Shaw Research), file tests/kat_vectors, rows philox4x32 10; the package randomgen, where
it is installed, for many more blocks.
"""

import numpy as np
import pytest
from pastepot.chance import Channel, philox4x32, words

KNOWN = [
    ("00000000 00000000 00000000 00000000", "00000000 00000000", "6627e8d5 e169c58d bc57ac4c 9b00dbd8"),
    ("ffffffff ffffffff ffffffff ffffffff", "ffffffff ffffffff", "408f276d 41c83b0e a20bc7c6 6d5451fd"),
    ("243f6a88 85a308d3 13198a2e 03707344", "a4093822 299f31d0", "d16cfe09 94fdcceb 5001e420 24126ea1"),
]


def _hex(text):
    return tuple(int(word, 16) for word in text.split())


@pytest.mark.parametrize(("counter", "key", "answer"), KNOWN)
def test_random123_known_answers(counter, key, answer):
    assert tuple(map(int, philox4x32(_hex(counter), _hex(key)))) == _hex(answer)


def test_random123_known_answers_all_at_once():
    counters, keys, answers = (np.array([_hex(row[i]) for row in KNOWN]).T for i in range(3))
    assert (np.array(philox4x32(tuple(counters), tuple(keys))) == answers).all()


@pytest.mark.parametrize(("counter", "key", "answer"), KNOWN)
def test_random123_known_answers_through_the_films_own_words(counter, key, answer):
    """tick, channel, the seed's high half and lane make up the counter; the seed's low half and the part the key."""
    tick, channel, seed_high, lane = _hex(counter)
    seed_low, part = _hex(key)
    drawn = words(seed_high << 32 | seed_low, part, channel, tick, lane)
    assert tuple(map(int, drawn)) == _hex(answer)


def test_random123_zero_block_is_seed_0_place_at_the_first_tick():
    assert int(words(0, 0, Channel.PLACE, 0)[0]) == 0x6627E8D5


def test_many_blocks_against_randomgen():
    randomgen = pytest.importorskip("randomgen", reason="randomgen is not installed: the known answers stand alone")
    rng = np.random.default_rng(1)
    for _ in range(50):
        counter, key = rng.integers(0, 2**32, 4, np.uint64), rng.integers(0, 2**32, 2, np.uint64)
        counter_number = sum(int(c) << 32 * i for i, c in enumerate(counter))
        theirs = randomgen.Philox(  # it steps the counter before it draws
            number=4, width=32, counter=(counter_number - 1) % 2**128, key=int(key[0]) | int(key[1]) << 32
        )
        ours = philox4x32(tuple(counter), tuple(key))
        assert [int(w) for w in ours] == [int(w) for w in theirs.random_raw(4)]
