"""The methods by which a lab's numbers are made, with their versions: a release keeps them."""

from __future__ import annotations

from stillroom.core import bridging, shift
from stillroom.lab.purposes import Purpose
from stillroom.lab.recipes import Graph
from stillroom.lab.sound import limits
from stillroom.methods.heat import versions as heat
from stillroom.readers.reading.recording import READER_VERSION


def methods_used(graph: Graph) -> dict[str, str]:
    """{method: version} of what was measured in a lab, by name.

    A method that the lab has no measurement for is left out: its change moves nothing there.
    """
    used = {
        *(each.method for each in graph.curves),
        *(each.method for each in graph.recordings),
        *(each.method for each in graph.sounds),
        *(each.method for each in graph.heats),
        *(each.method for each in graph.controls),
    }
    found = dict(map(_parted, used))
    found |= {"reader": str(READER_VERSION)} if used else {}
    found |= {"heat law": str(heat.LAW)} if graph.heats else {}
    found |= {"noise limit": str(limits.VERSION)} if graph.sounds else {}
    if graph.nodes(Purpose.AIRFLOW) or graph.sounds or graph.heats:
        found |= {"bridge": str(bridging.VERSION), "bridge by difference": str(shift.VERSION)}
    return dict(sorted(found.items()))


def _parted(method: str) -> tuple[str, str]:
    """A method such as "airflow mounting 3" as name and version."""
    name, _, version = method.rpartition(" ")
    return name, version
