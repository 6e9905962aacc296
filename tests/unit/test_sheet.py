"""The sheet of films: what is kept between pictures looks as if it were drawn each time."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageDraw

from biomech.render._sheet import Sheet, _font, _fonts, _lettered

SIZE = (400, 300)
PLACE = st.tuples(st.floats(-30, 830), st.floats(-30, 630))


@settings(deadline=None)
@given(
    PLACE, st.sampled_from(["buccal root torque", "\u22122.0 mm", "\u00c5gj (%)", "1", " ", ""]), st.floats(6, 24),
    st.booleans(), st.sampled_from("lmr"), st.sampled_from("ams"),
)  # fmt: skip
def test_kept_words_are_those_of_the_library(at, words, size, bold, across, down):
    sheet, plain = Sheet(SIZE), Sheet(SIZE)
    place = tuple(plain.pixels * v for v in at)
    if min(place) < 0.0:
        place = tuple(np.floor(place))  # the library rounds places below zero the other way
        at = tuple(v / plain.pixels for v in place)
    font = _font(max(1, round(size * plain.pixels)), bold)
    ImageDraw.Draw(plain.image).text(place, words, fill="#1c2733", font=font, anchor=across + down)
    for _ in range(2):  # made, then kept
        again = Sheet(SIZE)
        again.text(at, words, size, "#1c2733", bold=bold, anchor=across + down)
        assert np.array_equal(np.asarray(again.image), np.asarray(plain.image))
    assert not sheet.stencil()


def test_words_that_return_are_drawn_once():
    _lettered.cache_clear()
    for _ in range(5):
        Sheet(SIZE).text((10, 10), "said again and again")
    assert _lettered.cache_info().misses == 1


@settings(deadline=None, max_examples=30)
@given(st.lists(PLACE, min_size=2, max_size=6), st.floats(0.5, 12))
def test_a_stencil_lays_down_what_was_drawn(points, width):
    drawn, dark, stamped = Sheet(SIZE), Sheet(SIZE), Sheet(SIZE)
    drawn.line(np.array(points), "#30475e", width)
    dark.line(np.array(points), "black", width)
    stamped.stamp(dark.stencil(), "#30475e")
    assert np.array_equal(drawn.frame(), stamped.frame())


def test_a_stencil_keeps_only_what_is_dark():
    sheet = Sheet((800, 600))
    assert sheet.stencil() == []
    sheet.line(np.array([(10, 10), (40, 10)]), "black", 2.0)
    tiles = sheet.stencil()
    assert sum(mask.size[0] * mask.size[1] for mask, _ in tiles) < 400


def test_letters_are_found_without_loading_the_plots():
    assert (_fonts() / "DejaVuSans.ttf").is_file()
