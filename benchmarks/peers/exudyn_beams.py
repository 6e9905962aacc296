"""Benchmarks A and C with exudyn's geometrically exact beam (ObjectBeamGeometricallyExact).

pip install exudyn. Two-node elements with linear shape functions, so a fine mesh is needed for the accuracy that
curved elements have at once. Static solve with equal load steps; whether Newton converges depends on the orientation
of the model, hence the option to turn it.
"""

import time

import exudyn as exu
import exudyn.itemInterface as eii
import numpy as np


def _euler_parameters(r):
    from scipy.spatial.transform import Rotation

    return list(np.roll(Rotation.from_matrix(r).as_quat(), 1))


def _section(stiffness):
    s = exu.BeamSection()
    s.stiffnessMatrix = np.diag(stiffness)
    s.massPerLength = 1.0
    s.inertia = np.eye(3)
    return s


def _wire(mbs, poses, section):
    """Nodes and elements through the station poses; numbers of the nodes."""
    nodes = [
        mbs.AddNode(eii.NodeRigidBodyEP(referenceCoordinates=list(x) + _euler_parameters(r)))
        for r, x in zip(poses.rotation, poses.position, strict=True)
    ]
    for i in range(len(nodes) - 1):
        r = poses.rotation[i].T @ poses.rotation[i + 1]
        angle = np.arccos(np.clip((np.trace(r) - 1) / 2, -1, 1))
        chord = np.linalg.norm(poses.position[i + 1] - poses.position[i])
        length = chord * (angle / 2 / np.sin(angle / 2) if angle > 1e-9 else 1.0)
        mbs.AddObject(
            eii.ObjectBeamGeometricallyExact(
                nodeNumbers=nodes[i : i + 2], length=length, sectionData=_section(section)
            )
        )
    return nodes


def _turned(rotation):
    out = np.eye(4)
    out[:3, :3] = rotation
    return out


def _tooth(mbs, rotation, position, crown):
    """A rigid body; markers at its origin and at its local point `crown`."""
    node = mbs.AddNode(eii.NodeRigidBodyEP(referenceCoordinates=list(position) + _euler_parameters(rotation)))
    body = mbs.AddObject(
        eii.ObjectRigidBody(mass=1.0, inertia=[1.0, 1.0, 1.0, 0.0, 0.0, 0.0], nodeNumber=node)
    )
    return [mbs.AddMarker(eii.MarkerBodyRigid(bodyNumber=body, localPosition=list(p))) for p in (np.zeros(3), crown)]


def _ground(mbs, rotation, position):
    body = mbs.AddObject(eii.ObjectGround(referencePosition=list(position), referenceRotation=rotation))
    return mbs.AddMarker(eii.MarkerBodyRigid(bodyNumber=body))


def _solve(system, mbs, steps):
    mbs.Assemble()
    settings = exu.SimulationSettings()
    settings.staticSolver.numberOfLoadSteps = steps
    settings.staticSolver.newton.maxIterations = 60
    settings.staticSolver.newton.relativeTolerance = 1e-8
    settings.staticSolver.newton.absoluteTolerance = 1e-8
    settings.staticSolver.verboseMode = 0
    settings.solution.file.write = False
    settings.linearSolver.solverType = exu.LinearSolverType.EigenSparse
    start = time.perf_counter()
    exu.SolveStatic(mbs, settings)
    return 1e3 * (time.perf_counter() - start)


def _displacement(mbs, node):
    return np.array(mbs.GetNodeOutput(node, exu.OutputVariableType.Displacement))


def benchmark_a(model, force=600.0, steps=10):
    """Tip displacement and solve ms of a clamped wire (beams.Model with one wire) under a dead tip load along z."""
    system = exu.SystemContainer()
    mbs = system.AddSystem()
    section = np.array(model.data["section"])
    nodes = _wire(mbs, model.start, section)
    clamp = _ground(mbs, np.eye(3), model.start.position[0])
    first = mbs.AddMarker(eii.MarkerNodeRigid(nodeNumber=nodes[0], localHT=_turned(model.start.rotation[0].T)))
    mbs.AddObject(eii.ObjectJointGeneric(markerNumbers=[clamp, first]))
    tip = mbs.AddMarker(eii.MarkerNodePosition(nodeNumber=nodes[-1]))
    mbs.AddLoad(eii.LoadForceVector(markerNumber=tip, loadVector=[0, 0, force]))
    ms = _solve(system, mbs, steps)
    return _displacement(mbs, nodes[-1]), ms


def benchmark_c(model, torque=-12.0, tie=2.0, steps=1):
    """Displacements of the twelve clamp points and solve ms of a beams.benchmark_c model."""
    system = exu.SystemContainer()
    mbs = system.AddSystem()
    place = {}
    for group, section in ((0, model.data["main section"]), (1, model.data["overlay section"])):
        links = model.network.groups[group]
        frames = np.append(links.a, links.b[-1])
        place.update(zip(frames.tolist(), _wire(mbs, model.start.take(frames), section), strict=True))
    for number, t in zip(model.at["teeth"], model.data["t"], strict=True):
        # free of stress the tooth stands turned against the wire, since the slot turns the section
        a = np.deg2rad(-torque if abs(t) >= 40.0 else 0.0)
        turn = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
        r, x = model.start.rotation[number], model.start.position[number]
        below = np.array([0.0, 0.0, -13.0])
        wire = mbs.AddMarker(eii.MarkerNodeRigid(nodeNumber=place[int(number)], localHT=_turned(turn)))
        foot, crown = _tooth(mbs, r @ turn, x + r @ turn @ below, -below)
        mbs.AddObject(eii.ObjectJointGeneric(markerNumbers=[wire, crown]))
        mbs.AddObject(
            eii.ObjectConnectorRigidBodySpringDamper(
                markerNumbers=[_ground(mbs, r, x + r @ below), foot],
                stiffness=np.diag([60.0] * 3 + [3000.0] * 3),
                useIntrinsicFormulation=True,
            )
        )
    for a, b in zip(model.at["ties"], model.at["tied"], strict=True):
        ends = [mbs.AddMarker(eii.MarkerNodePosition(nodeNumber=place[int(i)])) for i in (a, b)]
        mbs.AddObject(eii.ObjectConnectorCartesianSpringDamper(markerNumbers=ends, stiffness=[tie] * 3))
    ms = _solve(system, mbs, steps)
    return np.array([_displacement(mbs, place[int(i)]) for i in model.at["teeth"]]), ms
