"""Random but admissible courses: each ends, balanced at every moment, or says why not; what wires hold adds up.

The arches are those of `randoms`; what visits do is drawn beside them. Seeds with bonded teeth, with teeth held, lower arches
and loads are among them; friction is left out for the sake of time.
"""

import json

import numpy as np
import pytest
from randoms import random_document

from biomech.errors import InputError
from biomech.scenario import Scenario
from biomech.studies.course import run_course
from biomech.studies.course_files import course_record

SEEDS = (2, 5, 14, 38, 112, 117)
"""14, 38, 112 and 117 have teeth bonded to a wire."""


def random_course(seed):
    rng = np.random.default_rng(seed)
    document = random_document(seed)
    wire = sorted(document["wire"])[int(rng.integers(len(document["wire"])))]
    visits = [{"after": "9 days"}, {"after": "16 days", "reactivate": {wire: "0.3 mm"}}]
    law = str(rng.choice(["logarithmic", "power", "proportional"]))
    return {**document, "course": {"law": law, "duration": "25 days", "visit": visits}}


@pytest.mark.parametrize("seed", SEEDS)
def test_a_random_course_is_balanced_and_its_energies_add_up(seed):
    course = run_course(Scenario.parse(random_course(seed)))
    assert course.times[-1] == 25.0
    json.dumps(course_record(course), allow_nan=False)
    for reading in course.readings:
        assert np.isfinite([reading.crown, reading.force, reading.moment]).all()
        # forces of the wires on teeth and the loads that act on teeth through them: rods pass on what they are given
        assert reading.unbalanced <= 1e-6 * max(1.0, reading.throughput)
    for i in (0, len(course.times) - 1):
        solution, reading = course.solution_at(i), course.readings[i]
        network, equilibrium = solution.appliance.network, solution.equilibrium
        for name, wire in solution.appliance.wires.items():
            groups = np.unique(wire.elements[:, 0])
            strains = {g: equilibrium.evaluation.kinematics[g].strain for g in groups}
            stored = sum(float(network.groups[g].law.energy(strains[g], None).sum()) for g in groups)
            assert reading.wires[name].energy == pytest.approx(stored, rel=1e-6, abs=1e-9)


def test_an_arch_of_held_teeth_is_refused():
    document = {**random_course(0), "ligament": {"law": "rigid"}}
    document["tooth"] = {k: {**v, "ligament": {"law": "rigid"}} if "ligament" in v else v for k, v in document.get("tooth", {}).items()}
    with pytest.raises(InputError, match="every tooth is held rigidly: nothing can move in time"):
        run_course(Scenario.parse(document))
