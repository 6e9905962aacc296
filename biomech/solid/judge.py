"""A judge: the same mesh, element and rule assembled by sfepy, an independent finite-element package.

The everyday path has a kernel of its own because sfepy is compiled at its installation and because its symbolic
serendipity basis takes longer to set up than the whole of a tooth (benchmarks/solid.py); both agree to rounding.
sfepy maps elements by their straight edges; here its own mapping is given the curved nodes and the field's basis.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from biomech.errors import InputError
from biomech.mechanics.poses import Array
from biomech.solid.elements import NODES
from biomech.solid.grid import Index


def sfepy_stiffness(points: Array, hexes: Index, young: float, poisson: float) -> Any:
    """Return the sparse stiffness (3 N, 3 N) of `hexes` (E, 20) on `points` (N, 3), assembled by sfepy.

    InputError where sfepy (extra "solid") is not installed.
    """
    try:
        from sfepy.base.base import output
        from sfepy.discrete import FieldVariable, Integral, Material, Problem
        from sfepy.discrete.fem import FEDomain, Mesh
        from sfepy.mechanics.matcoefs import stiffness_from_youngpoisson
    except ImportError as error:
        raise InputError(f"the judge needs the package sfepy ({error}); install the extra: biomech[solid]") from None

    output.set_output(quiet=True)
    corners, place = np.unique(hexes[:, :8], return_inverse=True)
    cells = [place.reshape(-1, 8).astype(np.int32)]
    mesh = Mesh.from_data("solid", points[corners], None, cells, [np.zeros(len(hexes), dtype=np.int32)], ["3_8"])
    region = FEDomain("solid", mesh).create_region("all", "all")
    field = _curved_field()("u", np.float64, "vector", region, approx_order=2)
    numbers = np.empty(field.n_nod, dtype=int)
    numbers[field.econn] = hexes[:, _order(field.poly_space.node_coors)]
    field.curved = points[numbers]
    u = FieldVariable("u", "unknown", field)
    v = FieldVariable("v", "test", field, primary_var_name="u")
    material = Material("m", D=stiffness_from_youngpoisson(3, young, poisson))
    matrix = _assembled(Problem, region, Integral, material, u, v)
    back = np.empty(3 * len(points), dtype=int)
    back[(3 * numbers[:, None] + np.arange(3)).ravel()] = np.arange(3 * len(points))
    return matrix.tocsr()[back][:, back].tocsc()


def _assembled(problem: Any, region: Any, integral: Any, material: Any, u: Any, v: Any) -> Any:
    from sfepy.discrete import Equation, Equations
    from sfepy.terms import Term

    rule = integral("i", order=3)  # 2 x 2 x 2 Gauss points
    term = Term.new("dw_lin_elastic(m.D, v, u)", rule, region, m=material, v=v, u=u)
    case = problem("solid", equations=Equations([Equation("balance", term)]))
    case.time_update()
    case.update_materials()
    name = f"dw_lin_elastic.3.{region.name}(m.D, v, u)"
    return case.evaluate(name, mode="weak", dw_mode="matrix", m=material, v=v, u=u)


def _order(places: Array) -> list[int]:
    """Return, for each node of sfepy's element at `places` (20, 3) in [0, 1], its number in ours."""
    cube = np.round(2.0 * places - 1.0).astype(int)
    return [int(np.flatnonzero((place == NODES).all(axis=1))[0]) for place in cube]


def _curved_field() -> Any:
    from sfepy.discrete.fem.fields_nodal import H1SNodalVolumeField
    from sfepy.discrete.fem.mappings import FEMapping

    class CurvedField(H1SNodalVolumeField):  # type: ignore[misc]
        """Serendipity field whose mapping uses the same basis on the nodes `curved` (N, 3)."""

        family_name = H1SNodalVolumeField.family_name
        curved: Array

        def create_mapping(self, region: Any, integral: Any, integration: str, return_mapping: bool = True) -> Any:
            """Return the mapping as the base class does, isoparametric."""
            cells = region.get_cells(true_cells_only=True)
            rule = self.get_qp("v", integral)
            basis = self.eval_basis("v", 0, integral, iels=cells)
            mapping = FEMapping(self.curved, self.econn[cells], poly_space=self.poly_space)
            out = mapping.get_mapping(rule.vals, rule.weights, basis, poly_space=self.poly_space, ori=self.ori)
            out.integral, out.qp, out.ps = integral, rule, self.poly_space
            return (out, mapping) if return_mapping else out

    return CurvedField
