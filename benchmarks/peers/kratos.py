"""Benchmark A with KratosMultiphysics' co-rotational beam (CrBeamElement3D2N).

pip install KratosMultiphysics KratosStructuralMechanicsApplication. Straight two-node elements, so a fine mesh is
needed for the accuracy that curved elements have at once. Convergence is judged here, from the displacements: the
engine's own criterion can call NaN converged. (Benchmark C is left out: its slots turn the stress-free section
against the tooth, which needs a start that this element cannot be given.)
"""

import time

import KratosMultiphysics as km
import KratosMultiphysics.StructuralMechanicsApplication as sma
import numpy as np

km.Logger.GetDefaultOutput().SetSeverity(km.Logger.Severity.WARNING)


def _model_part():
    model = km.Model()
    part = model.CreateModelPart("beam")
    part.ProcessInfo[km.DOMAIN_SIZE] = 3
    for v in (km.DISPLACEMENT, km.ROTATION, km.REACTION, km.REACTION_MOMENT, sma.POINT_LOAD, sma.POINT_MOMENT,
              km.VOLUME_ACCELERATION):  # fmt: skip
        part.AddNodalSolutionStepVariable(v)
    part.SetBufferSize(2)
    return model, part


def _properties(part, number, young, poisson, area, shear_area, torsion, i_up, i_out):
    """`i_up`: bending about the vertical axis (in the plane), `i_out` about the outward one."""
    p = part.CreateNewProperties(number)
    p.SetValue(km.YOUNG_MODULUS, young)
    p.SetValue(km.POISSON_RATIO, poisson)
    p.SetValue(km.DENSITY, 1.0)
    p.SetValue(sma.CROSS_AREA, area)
    p.SetValue(sma.TORSIONAL_INERTIA, torsion)
    p.SetValue(sma.AREA_EFFECTIVE_Y, shear_area)
    p.SetValue(sma.AREA_EFFECTIVE_Z, shear_area)
    p.SetValue(sma.I33, i_up)
    p.SetValue(sma.I22, i_out)
    p.SetValue(km.CONSTITUTIVE_LAW, sma.BeamConstitutiveLaw())
    return p


def _wire(part, points, properties, first=1):
    for i, x in enumerate(points):
        part.CreateNewNode(first + i, *map(float, x))
    for i in range(len(points) - 1):
        e = part.CreateNewElement("CrBeamElement3D2N", first + i, [first + i, first + i + 1], properties)
        t = points[i + 1] - points[i]
        outward = np.cross([0.0, 0.0, 1.0], t)
        e.SetValue(km.LOCAL_AXIS_2, km.Vector(list(map(float, outward / np.linalg.norm(outward)))))


def _add_dofs(part):
    for d, r in (("DISPLACEMENT", "REACTION"), ("ROTATION", "REACTION_MOMENT")):
        for x in "XYZ":
            km.VariableUtils().AddDof(getattr(km, f"{d}_{x}"), getattr(km, f"{r}_{x}"), part)


def _clamp(node):
    for d in ("DISPLACEMENT", "ROTATION"):
        for x in "XYZ":
            node.Fix(getattr(km, f"{d}_{x}"))


def _load(part, number, node, force):
    c = part.CreateNewCondition("PointLoadCondition3D1N", number, [node], part.GetProperties()[1])
    c.SetValue(sma.POINT_LOAD, km.Vector(list(map(float, force))))
    return c


def _solve(part, loads, steps=10):
    """Grow the `loads` [(condition, force)] in equal steps; return ms."""
    solver = km.SkylineLUFactorizationSolver()
    scheme = km.ResidualBasedIncrementalUpdateStaticScheme()
    criterion = km.ResidualCriteria(1e-9, 1e-9)
    builder = km.ResidualBasedBlockBuilderAndSolver(solver)
    strategy = km.ResidualBasedNewtonRaphsonStrategy(part, scheme, criterion, builder, 60, True, False, True)
    strategy.SetEchoLevel(0)
    strategy.Check()
    start = time.perf_counter()
    for i in range(1, steps + 1):
        part.CloneTimeStep(float(i))
        for c, f in loads:
            c.SetValue(sma.POINT_LOAD, km.Vector([float(x) * i / steps for x in f]))
        strategy.Solve()
    return 1e3 * (time.perf_counter() - start)


def _moved(node):
    return np.array(node.GetSolutionStepValue(km.DISPLACEMENT))


def benchmark_a(elements=32, force=600.0, torsion=1 / 6, steps=10):
    """Tip displacement of the 45-degree arc and the solve time in ms."""
    _, part = _model_part()
    p = _properties(part, 1, 1e7, 0.0, 1.0, 5 / 6, torsion, 1 / 12, 1 / 12)
    t = np.linspace(0, np.pi / 4, elements + 1)
    _wire(part, 100 * np.stack([1 - np.cos(t), np.sin(t), 0 * t], axis=-1), p)
    _add_dofs(part)
    _clamp(part.Nodes[1])
    tip = part.Nodes[elements + 1]
    f = (0.0, 0.0, force)
    ms = _solve(part, [(_load(part, 1, elements + 1, f), f)], steps)
    u = _moved(tip)
    if not np.isfinite(u).all():
        raise RuntimeError("the engine returned NaN")
    return u, ms


if __name__ == "__main__":
    for n in (32, 128):
        print(n, *benchmark_a(n))
