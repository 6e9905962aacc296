"""What the missing roof of the handbook's furcation costs, as a warning.

The handbook tooth of several roots is an open trunk over separate paraboloids; the roof between them bears nothing.
Along the long axis it is therefore too soft. Measured against the same teeth as closed surfaces (`meshes/`, blended
furcation with a roof), stiffness along the long axis, uniform 0.2 mm:

| | nu 0.30 | 0.45 | 0.49 | 0.499 |
|---|---|---|---|---|
| molars, surface equation | -10 % | -23 % | -37 % | -39 % |
| molars, springs | -12 % | -27 % | -45 % | -53 % |
| upper first premolar, surface equation | -6 % | -15 % | -28 % | -30 % |

Across the long axis the same pairs are within 5 % (6 % on springs).
"""

from __future__ import annotations

from collections.abc import Iterable

from biomech.tooth.model import Tooth

NOTABLE = 0.40
"""Poisson's ratio above which what the roof would bear is said: it grows with the modulus of the held layer."""


def roof_warning(teeth: Iterable[tuple[Tooth, float]]) -> tuple[str, ...]:
    """Return the warning for `teeth`, each with the Poisson's ratio of its ligament; empty when none is due.

    It is due for handbook teeth of several roots above NOTABLE.
    """
    several = (t.number for t, poisson in teeth if t.shape is None and len(t.roots) > 1 and poisson > NOTABLE)
    numbers = list(several)
    if not numbers:
        return ()
    who = f"{'tooth' if len(numbers) == 1 else 'teeth'} {', '.join(map(str, numbers))}"
    return (
        f"{who}: the roof of the handbook's furcation bears nothing, so that along the long axis molars are too soft, "
        "by a quarter at poisson 0.45 and 37 % at 0.49 (springs 45 %); across it within 6 %. A surface file has a roof",
    )
