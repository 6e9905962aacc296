"""Which tooth a film of several solutions looks at unless it is told."""

from types import SimpleNamespace

from biomech.render import animate
from biomech.render.animate import foremost


def solved(**axes):
    """A solution whose teeth move their long axes so far buccally at crown and apex, mm; None for a tooth held."""
    moved = {int(n[1:]): axis and {"crown": axis[0], "apex": axis[1]} for n, axis in axes.items()}
    return SimpleNamespace(teeth=moved, tooth=lambda n: {"long_axis_mm": moved[n]})


def test_the_tooth_that_moves_most_differently():
    alone = solved(t17=None, t16=(0.06, -0.02), t11=(-0.06, 0.02), t26=(0.06, -0.02))
    torqued = solved(t17=None, t16=(0.03, 0.01), t11=(-0.05, 0.01), t26=(0.03, 0.01))
    assert foremost([alone, torqued]) == 16
    assert foremost([alone, solved(t11=(0.0, 0.0), t26=(0.06, -0.02))]) == 11


def test_the_one_that_moves_most_where_nothing_differs(monkeypatch):
    monkeypatch.setattr(animate, "largest_crown_displacement", lambda solution: (13, 0.1))
    one = solved(t16=(0.06, -0.02), t13=(0.1, 0.0))
    assert foremost([one]) == foremost([one, one]) == 13
