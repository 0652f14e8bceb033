"""Writing the open data of a release: a Frictionless Data Package, a CSV file a table.

The package and its tables keep to the Data Package, Data Resource and Table Schema specifications, version 1
(datapackage.json with the profile "tabular-data-package"); `unit` and `definition` of a column are additions, which
they allow.
"""

from __future__ import annotations

import hashlib
import json
import re
import unicodedata
from collections.abc import Callable
from pathlib import Path
from typing import Any

from stillroom.lab.executor import Progress
from stillroom.publish.contents import Contents
from stillroom.publish.data import airflow, bench, control, decisions, heat, measures, products, sound
from stillroom.publish.data.cells import APOSTROPHE_RULE, FIGURES, csv_bytes
from stillroom.publish.data.fields import Table
from stillroom.publish.data.shown import Shown

DESCRIPTOR = "datapackage.json"
PROFILE, TABULAR = "tabular-data-package", "tabular-data-resource"

TABLES: tuple[Callable[[Shown], Table], ...] = (
    measures.measures,
    measures.standings,
    products.fans,
    products.samples,
    products.mountings,
    products.prices,
    products.claims,
    airflow.curves,
    airflow.points,
    sound.levels,
    sound.level_curves,
    heat.heat_steps,
    control.control,
    control.responses,
    bench.obstacles,
    bench.obstacle_points,
    bench.instruments,
    bench.calibrations,
    bench.nozzles,
    decisions.accepted,
    decisions.exclusions,
    decisions.exclusions_by_maker,
    decisions.rounds,
)
"""The tables of the open data, in the order in which they are listed."""

DIGITS = (
    "Standings and claims are rounded to the place that their 95 % interval allows. Curves, points and coefficients "
    f"carry up to {FIGURES} significant digits for further calculation: their uncertainty stands beside them."
)


def write_open_data(contents: Contents, folder: Path, progress: Progress) -> list[Path]:
    """Write the open data of a release.

    Parameters
    ----------
    contents : of the release. folder : for the data, made where it isn't there. progress : told how far it is.

    Returns
    -------
    list[Path] : the files written: a CSV file of each table, and datapackage.json.
    """
    folder.mkdir(parents=True, exist_ok=True)
    shown, written, resources = Shown(contents), [], []
    for done, make in enumerate(TABLES):
        progress("open data", done, len(TABLES))
        table = make(shown)
        data = csv_bytes(table.header, table.cells())
        path = folder / f"{table.name}.csv"
        path.write_bytes(data)
        written.append(path)
        resources.append(resource(table, data))
    text = json.dumps(descriptor(contents, resources), ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    (folder / DESCRIPTOR).write_bytes(text.encode())
    progress("open data", len(TABLES), len(TABLES))
    return [folder / DESCRIPTOR, *written]


def resource(table: Table, data: bytes) -> dict[str, Any]:
    """The descriptor of a table's file."""
    return {
        "profile": TABULAR,
        "name": table.name,
        "title": table.title,
        "description": table.description,
        "path": f"{table.name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": ",", "doubleQuote": True, "header": True, "lineTerminator": "\r\n"},
        "bytes": len(data),
        "hash": f"sha256:{hashlib.sha256(data).hexdigest()}",
        "schema": table.schema(),
    }


def descriptor(contents: Contents, resources: list[dict[str, Any]]) -> dict[str, Any]:
    """The descriptor of the package: what it is of, which release, under which licence where the lab tells one."""
    licence = contents.settings.publish.licence
    told: dict[str, Any] = {
        "profile": PROFILE,
        "name": package_name(contents.name),
        "title": f"{contents.settings.name}: {contents.name}",
        "description": f"{_question(contents)}Open data of the release {contents.name} of {contents.date}. {DIGITS}",
        "version": contents.name,
        "created": f"{contents.date[:10]}T00:00:00Z",
        "contributors": [{"title": contents.settings.name, "role": "author"}],
        "texts": APOSTROPHE_RULE,
    }
    if contents.corrects:
        told["corrects"] = contents.corrects
    if licence:
        told["licenses"] = [{"name": licence}]
    return told | {"resources": resources}


def _question(contents: Contents) -> str:
    return f"{contents.question} " if contents.question else ""


def package_name(name: str) -> str:
    """A release's name as the specification wants names: small letters, figures, dots, dashes and underlines."""
    plain = unicodedata.normalize("NFKD", name.casefold())
    return re.sub(r"[^a-z0-9._]+", "-", plain).strip("-") or "release"
