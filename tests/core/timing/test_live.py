"""Redo while editing: what is written anew, on top of what was there, is the whole film made anew."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from pastepot.timing.handmade import expose
from pastepot.timing.live import again, edited_frames
from pastepot.timing.planning import plans
from pastepot.timing.rows import Exposed, Role, Rows


def on_show(exposed: Exposed, rows: Rows) -> np.ndarray:
    frames = np.arange(rows.first, rows.last + 1)
    return exposed.values[:, np.searchsorted(exposed.starts, frames, side="right") - 1]


@given(
    st.data(), st.sampled_from([(1,), (2,), (2, 2, 3)]), st.integers(-3, 3), st.sampled_from(["moved", "later", "all"])
)
def test_pieces_on_top_of_the_old_film_are_the_new_film(films, feels, table, data, pattern, shift, kind) -> None:
    rows = data.draw(films(6))
    feel = data.draw(feels(odds=(), pattern=pattern, anchor="extremes", fast_share=0.0))
    changed = np.arange(len(rows.owners)) == data.draw(st.integers(0, len(rows.owners) - 1))
    own = changed[rows.owner] & (rows.role != Role.SHOWN)
    keyed, values = rows.keyed.copy(), rows.values.copy()
    keyed[own] = np.roll(rows.keyed[own], shift, axis=1)
    if kind != "moved":
        some = slice(None) if kind == "all" else slice(data.draw(st.integers(0, values.shape[1])), None)
        values[own, some] *= np.float32(1.5)
    now = replace(rows, keyed=keyed, values=values)
    before, after = (plans(r, feel, table).shared for r in (rows, now))

    seen = on_show(expose(rows, before, feel, table), rows)
    whole = expose(now, after, feel, table)
    frames = edited_frames(rows, now) if data.draw(st.booleans()) else None
    for piece in again(now, before, after, changed, feel, table, frames):
        made = piece.exposed
        inside = np.arange(piece.first, piece.last + 1)
        shows = made.values[:, np.searchsorted(made.starts, inside, side="right") - 1]
        seen[np.ix_(piece.row, inside - 1)] = shows
        at = np.searchsorted(after, made.starts)
        assert (made.changes == whole.changes[np.ix_(piece.row, at)]).all()
        assert (made.extreme == whole.extreme[np.ix_(piece.owner, at)]).all()
        assert (made.placed == whole.placed[np.ix_(piece.owner, at)]).all()
    assert (seen == on_show(whole, now)).all()
