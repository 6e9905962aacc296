"""Numbers of teeth in pictures of the arch: all of them, none over another, each led to its tooth."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from solved import small

from biomech.render import drawing
from biomech.render._tooth_numbers import HIGH, WIDE, apart, write_numbers
from biomech.render._views import build_scene, extent_of, render
from biomech.render.picture import _views


@pytest.fixture
def able():
    if not drawing().works:
        pytest.skip(drawing().reason)


@pytest.mark.parametrize("k", [0, 1, 2])
def test_every_tooth_has_its_number_in_every_view(able, k):
    """No two overlap, a leader ends where its tooth is seen, and neighbours stand in their order."""
    from matplotlib.figure import Figure

    view, scene, scale = _views(small())[k], build_scene(small(), 30.0), 12.0
    image = render(scene, view, extent_of(scene, view), scale)
    axes = Figure(figsize=(16, 10)).add_axes((0, 0, 1, 1))
    write_numbers(axes, scene, view, image, scale)
    places = {int(text.get_text()): np.array(text.get_position()) for text in axes.texts}
    assert set(places) == set(view.numbers)
    for a in places:
        for b in set(places) - {a}:
            assert (np.abs(places[a] - places[b]) * scale >= np.array([WIDE, HIGH]) - 1e-6).any()
    if k:
        crowns = {n: view.flat(scene.crowns[n].vertices)[:, 0].mean() for n in places}
        assert sorted(places, key=lambda n: places[n][0]) == sorted(places, key=crowns.__getitem__)
        assert all(at[1] > view.flat(scene.roots[n].vertices)[:, 1].max() for n, at in places.items())
    for i, n in enumerate(view.numbers):
        assert len(image.seen(2 * i + 1)) and not len(image.seen(99))
        low, high = (f(view.flat(scene.crowns[n].vertices), axis=0) for f in (np.min, np.max))
        assert (image.seen(2 * i + 1) > low - 0.2).all() and (image.seen(2 * i + 1) < high + 0.2).all()


@given(st.lists(st.tuples(st.floats(0, 60), st.floats(0, 60)), min_size=1, max_size=14))
def test_numbers_on_crowns_are_pushed_apart(places):
    marks = {n: np.array(at) for n, at in enumerate(places)}
    found = apart(marks, 3.0, 2.0)
    assert list(found) == list(marks)
    for a in found:
        for b in range(a):
            assert (np.abs(found[a] - found[b]) >= np.array([3.0, 2.0]) - 1e-6).any()
    if len(places) == 1:
        assert found[0].tolist() == list(places[0])
