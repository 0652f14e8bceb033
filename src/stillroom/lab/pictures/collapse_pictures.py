"""The collapse plot: all sweeps of a fan in dimensionless form against one common curve."""

from __future__ import annotations

import numpy as np

from stillroom import wording
from stillroom.charts.series import CollapseChart, Sweep
from stillroom.core.characteristic import Characteristic, Part, pressure_coefficients
from stillroom.core.intervals import coverage_interval
from stillroom.errors import UnknownThing
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.curves import load_fan, result_of
from stillroom.lab.pictures.curve_pictures import first_mounting, measured_fans
from stillroom.lab.pictures.picture_words import footer, plain_name
from stillroom.lab.recipes import Graph
from stillroom.store import results
from stillroom.store.lab import Lab


def collapse(lab: Lab, book: Book, graph: Graph, fan: str) -> tuple[CollapseChart, str]:
    """All sweeps of a fan in dimensionless form, with the curve of its first mounting.

    Raises
    ------
    UnknownThing : the fan has no run, or none is named and there are several.
    """
    known = measured_fans(graph)
    if not fan and len(known) > 1:
        raise UnknownThing("fan", found="none named", expected="--fan with one of " + ", ".join(known))
    name = fan or known[0]
    first = first_mounting(graph, name)
    nodes = [each for each in graph.mountings() if each.fan == name and not each.obstacle]
    mounted = load_fan(lab.path, result_of(lab, first)).characteristic
    phi = np.linspace(0.0, mounted.reach[1], 120)
    rows = pressure_coefficients(mounted, phi, mounted.reynolds_reference)
    low, high = coverage_interval(rows[1 + len(mounted.sources) :], axis=0)
    sweeps: list[Sweep] = []
    for node in nodes:
        sweeps += _sweeps(lab, node, mounted)
    used = np.array([abs(each) for sweep in sweeps if not sweep.held for each in sweep.residual])
    within = float(np.quantile(used, 0.95)) if len(used) else 0.0
    held = [each.label for each in sweeps if each.held]
    words = f"95 % of the points lie within {wording.number(within, 1)} % of the greatest pressure"
    picture = CollapseChart(
        title=f"{name}: {wording.plural(len(sweeps), 'sweep')} fall on one curve"
        if not held
        else f"{name}: {wording.plural(len(held), 'sweep')} of {len(sweeps)} off the common curve",
        subtitle=f"All speeds and mountings, brought to one Reynolds number; {words}",
        footer=footer(book.settings, "airflow characteristic", wording.plural(len(nodes), "mounting")),
        sweeps=tuple(sweeps),
        phi=tuple(float(each) for each in phi),
        psi=tuple(float(each) for each in rows[0]),
        low=tuple(float(each) for each in low),
        high=tuple(float(each) for each in high),
        alt=wording.collapse_alt(name, len(sweeps), len(nodes), words, held),
    )
    return picture, plain_name("collapse", name)


OFF = 3.0
"""A sweep whose median distance from the common curve is more than this is called off the curve [%]."""


def _sweeps(lab: Lab, node: CurveNode, common: Characteristic) -> list[Sweep]:
    """The sweeps of one mounting against the common curve, each point at its own Reynolds number."""
    result = result_of(lab, node)
    arrays = results.load_arrays(lab.path, node.key)
    phi, reynolds = arrays["points_phi"], arrays["points_reynolds"]
    there = pressure_coefficients(common, phi, reynolds, part=Part.CENTRAL)[0]
    here = pressure_coefficients(common, phi, common.reynolds_reference, part=Part.CENTRAL)[0]
    away = arrays["points_psi"] - there
    share = 100.0 * away / float(here.max())
    dropped = {each["sweep"] for each in result.body["curve"]["sweeps"] if each["dropped"]}
    sweeps, start = [], 0
    for index, run in enumerate(result.body["runs"]):
        part = slice(start, start + run["points"])
        start = part.stop
        off = float(np.median(np.abs(share[part]))) > OFF
        sweeps.append(
            Sweep(
                label=f"{node.subject}, {run['setting'] or run['file']}",
                phi=tuple(float(each) for each in phi[part]),
                psi=tuple(float(each) for each in (here + away)[part]),
                residual=tuple(float(each) for each in share[part]),
                speed=run["setting"],
                mounting=node.subject,
                held=index in dropped or off,
                word="left out of the fit" if index in dropped else "off the common curve" if off else "",
            )
        )
    return sweeps
