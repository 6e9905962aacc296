"""biomech: the force system of orthodontic wires on teeth, and how the teeth would move.

For teaching, research and sanity checks. Not a medical device; treatment is the decision of a licensed
clinician under local rules.
"""

__version__ = "0.1.0"
