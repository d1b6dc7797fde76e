"""Reduced-order simulation of drop formation in glass-capillary devices.

    >>> import slenderjet
    >>> run = slenderjet.run(slenderjet.example("tap"), **{"run.drops": 4})
    >>> run.summary["primary"]["mean_diameter_m"]            # doctest: +SKIP

A case is a path, the text of a case file, or a dict (``{"layout": "pendant", "inner": {"flow": "2 mL/min"}, ...}``). Further keys are
set as with ``--set`` of the program: ``run(case, **{"inner.flow": "150 uL/h"})``. What is wrong with a case raises ``ValueError`` with
the program's own drawn message; Ctrl-C raises ``KeyboardInterrupt``. All numbers are SI.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from . import _core

__version__ = _core.__version__
__all__ = [
    "Frame",
    "Run",
    "aim",
    "calibrate",
    "check",
    "example",
    "examples",
    "growth",
    "liquids",
    "map",
    "margins",
    "open",
    "run",
    "spread",
    "sweep",
]

Case = "str | os.PathLike[str] | Mapping[str, Any]"

_DROP = np.dtype(
    [
        ("time_s", "f8"),
        ("satellite", "?"),
        ("volume_m3", "f8"),
        ("diameter_m", "f8"),
        ("position_m", "f8"),
        ("velocity_m_per_s", "f8"),
        ("flagged", "?"),
    ]
)


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, np.integer)):
        return str(int(value))
    if isinstance(value, (float, np.floating)):
        return repr(float(value))
    return json.dumps(str(value), ensure_ascii=False)


def _text_of(case: Any) -> tuple[str, str]:
    """Text of a case and the name under which its errors are told."""
    if isinstance(case, Mapping):
        lines, sections = [], {}
        for key, value in case.items():
            if isinstance(value, Mapping):
                sections.setdefault(key, {}).update(value)
            elif "." in key:
                section, name = key.split(".", 1)
                sections.setdefault(section, {})[name] = value
            else:
                lines.append(f"{key} = {_toml(value)}")
        for section, entries in sections.items():
            lines += [f"[{section}]", *(f"{name} = {_toml(value)}" for name, value in entries.items())]
        return "\n".join(lines) + "\n", "case"
    if isinstance(case, os.PathLike) or (isinstance(case, str) and "\n" not in case and "=" not in case):
        path = Path(case)
        return path.read_text(encoding="utf-8"), str(path)
    return str(case), "case"


def _changes(settings: Mapping[str, Any]) -> list[str]:
    return [f"{key}={value}" for key, value in settings.items()]


def _threads(threads: int | None) -> int:
    if threads is not None:
        return max(1, int(threads))
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity else (os.cpu_count() or 1)


class Frame:
    """All bodies at one instant."""

    __slots__ = ("bodies", "time")

    def __init__(self, time: float, bodies: list[dict[str, Any]]) -> None:
        self.time = time
        self.bodies = bodies

    def __repr__(self) -> str:
        return f"Frame(time={self.time:.6g} s, bodies={len(self.bodies)})"


class Run:
    """What a run gave: ``summary`` (dict), ``drops`` (structured array), ``frames`` (list of :class:`Frame`)."""

    def __init__(self, summary: dict[str, Any], frames: list[Frame], case_text: str) -> None:
        self.summary = summary
        self.frames = frames
        self.case_text = case_text
        rows = [
            (
                d["time_s"],
                d["kind"] == "satellite",
                d["volume_m3"],
                d["diameter_m"],
                d["position_m"],
                d["velocity_m_per_s"],
                d["flagged"],
            )
            for d in summary["drops"]
        ]
        self.drops = np.array(rows, dtype=_DROP)

    def __repr__(self) -> str:
        return f"Run({self.summary['title']!r}, mode={self.summary['mode']}, drops={len(self.drops)}, frames={len(self.frames)})"

    def to_xarray(self):
        """The drops as an ``xarray.Dataset`` along ``drop``, with units."""
        import xarray as xr

        units = {"time_s": "s", "volume_m3": "m3", "diameter_m": "m", "position_m": "m", "velocity_m_per_s": "m s-1"}
        columns = {
            name: ("drop", self.drops[name].copy(), {"units": units[name]} if name in units else {}) for name in _DROP.names
        }
        about = {key: self.summary[key] for key in ("title", "layout", "mode", "version")}
        return xr.Dataset(columns, coords={"drop": np.arange(len(self.drops))}, attrs=about)

    def save(self, path: str | os.PathLike[str]) -> None:
        """Writes the run as HDF5 (needs h5py), beside and renamed; an existing file is not overwritten.

        The arrays have the names of the program's record. The program's own record (``slenderjet run -o``) holds more: necks,
        solver counts, the state to go on from.
        """
        import h5py

        path = Path(path)
        if path.exists() or path.is_symlink():
            raise FileExistsError(f"{path} exists; move it away or use another name")
        beside = path.with_name(f".{path.name}.{os.getpid()}.tmp")
        bodies = [body for frame in self.frames for body in frame.bodies]
        joined = lambda name: np.concatenate([b[name] for b in bodies]) if bodies else np.empty(0)
        try:
            with h5py.File(beside, "w") as file:
                file.attrs.update(schema="slenderjet-python-1", title=self.summary["title"], version=__version__)
                file["time"] = np.array([frame.time for frame in self.frames])
                file["bodies_in_frame"] = np.array([len(frame.bodies) for frame in self.frames], dtype="i8")
                file["nodes_in_body"] = np.array([len(b["z"]) for b in bodies], dtype="i8")
                file["attached"] = np.array([b["attached"] for b in bodies], dtype="i1")
                for name, unit in (("z", "m"), ("h", "m"), ("u", "m s-1")):
                    file.create_dataset(name, data=joined(name), compression="gzip", compression_opts=1).attrs["units"] = unit
                file["time"].attrs["units"] = "s"
                file.create_group("summary")["json"] = json.dumps(self.summary)
                file.create_group("case")["text"] = self.case_text
            os.link(beside, path)
        finally:
            beside.unlink(missing_ok=True)


def _frames(time, bodies_in_frame, nodes_in_body, attached, z, h, u) -> list[Frame]:
    frames, body, node = [], 0, 0
    for instant, count in zip(time, bodies_in_frame, strict=True):
        bodies = []
        for index in range(body, body + int(count)):
            end = node + int(nodes_in_body[index])
            bodies.append({"attached": bool(attached[index]), "z": z[node:end], "h": h[node:end], "u": u[node:end]})
            node = end
        body += int(count)
        frames.append(Frame(float(instant), bodies))
    return frames


def run(case: Any, **settings: Any) -> Run:
    """Simulates a case; ``settings`` are further keys, as ``**{"run.drops": 10}``."""
    text, name = _text_of(case)
    summary, time, bodies, nodes, attached, z, h, u = _core.run(text, name, _changes(settings))
    arrays = [np.frombuffer(raw, dtype="<f8") for raw in (time, z, h, u)]
    return Run(json.loads(summary), _frames(arrays[0], bodies, nodes, attached, *arrays[1:]), text)


def check(case: Any, **settings: Any) -> dict[str, Any]:
    """Is the case well posed? Groups, base flow, expected mode, warnings, cautions; no simulation."""
    text, name = _text_of(case)
    return json.loads(_core.check(text, name, _changes(settings)))


def growth(case: Any, at: Iterable[float] | None = None, **settings: Any) -> dict[str, Any]:
    """Growth rate against reduced wavenumber, this model and exact theory."""
    text, name = _text_of(case)
    points = [0.05 * i for i in range(1, 22)] if at is None else [float(x) for x in at]
    return json.loads(_core.growth(text, name, _changes(settings), points))


def sweep(case: Any, rows: Sequence[Mapping[str, Any]], threads: int | None = None, **settings: Any) -> list[dict[str, Any]]:
    """Runs the case once for each row of settings, side by side; a failed row says why. ``pandas.DataFrame`` takes the answer."""
    text, name = _text_of(case)
    asked = [_changes(row) for row in rows]
    table = []
    for row, (values, summary, why) in zip(rows, _core.sweep(text, name, _changes(settings), asked, _threads(threads)), strict=True):
        line = dict(zip(row, values)) if values else dict(row)
        told = json.loads(summary) if summary else {}
        primary, satellites = told.get("primary") or {}, told.get("satellites") or {}
        line |= {
            "mode": told.get("mode"),
            "mean_diameter_m": primary.get("mean_diameter_m"),
            "cv": primary.get("cv"),
            "rate_per_s": primary.get("rate_per_s"),
            "satellites_per_primary": satellites.get("per_primary"),
            "satellite_volume_fraction": satellites.get("volume_fraction"),
            "jet_length_m": (told.get("jet") or {}).get("length_m"),
            "first_pinch_s": (told.get("first_pinch") or {}).get("time_s"),
            "settled_drops": primary.get("count"),
            "stopped": told.get("stopped"),
            "status": "done" if summary else "failed",
            "reason": why or "",
        }
        table.append(line)
    return table


_RANGE = re.compile(r"^\s*(?P<from>[-+.\deE]+)\s*\.\.\s*(?P<to>[-+.\deE]+)\s*(?P<unit>.*?)\s*/\s*(?P<n>\d+)\s*(?P<log>log)?\s*$")


def _values(key: str, wanted: Any) -> list[Any]:
    if not isinstance(wanted, str):
        return list(wanted)
    found = _RANGE.match(wanted)
    if not found:
        raise ValueError(f"{key}: `{wanted}` is no range; write FROM..TO UNIT/N or .../Nlog, for example '50..500 uL/h/8log'")
    low, high, n = float(found["from"]), float(found["to"]), int(found["n"])
    if n < 2 or (found["log"] and not (low > 0 and high > 0)):
        raise ValueError(f"{key}: a range has two values at least, and with `log` ends above zero")
    points = np.geomspace(low, high, n) if found["log"] else np.linspace(low, high, n)
    return [f"{float(x)!r} {found['unit']}".strip() for x in points]


def map(case: Any, vary: Mapping[str, Any], threads: int | None = None, **settings: Any) -> list[dict[str, Any]]:
    """Every combination of the varied keys (lists of values with units, or ``'FROM..TO UNIT/N[log]'``): a table of rows.

    Coarse and with at most 10 drops a cell, unless ``settings`` say otherwise, as the program's own map.
    """
    import itertools

    settings = {"run.accuracy": "coarse", "run.drops": 10, "run.frames": 2} | settings
    keys = list(vary)
    cells = itertools.product(*(_values(key, vary[key]) for key in keys))
    return sweep(case, [dict(zip(keys, cell)) for cell in cells], threads, **settings)


def aim(
    case: Any,
    diameter: str,
    rate: str | None = None,
    *,
    no_satellites: bool = False,
    pressure: str | None = None,
    margins: bool = False,
    threads: int | None = None,
    **settings: Any,
) -> dict[str, Any]:
    """Which flows give drops of ``diameter`` (``'80 um'``), at ``rate`` (``'500 1/s'``) if that matters?

    The answer of the program's ``aim --json``; ``case_text`` in it is the case with the flows found, or None. An impossible wish is an
    answer too: ``found`` is False, ``reason`` says what stands in the way.
    """
    text, name = _text_of(case)
    wish = (str(diameter), rate, no_satellites, pressure, margins)
    told, found = _core.aim(text, name, _changes(settings), wish, _threads(threads))
    return json.loads(told) | {"case_text": found}


def margins(case: Any, within: float | None = 4.0, threads: int | None = None, **settings: Any) -> dict[str, Any]:
    """How far may each input drift before the size leaves 5 %, and where does the mode change within a factor ``within``?

    ``within=None`` leaves the search for the mode's border out.
    """
    if within is not None and not 1.0 < within <= 100.0:
        raise ValueError("within: a factor above 1 and up to 100 is needed")
    text, name = _text_of(case)
    return json.loads(_core.margins(text, name, _changes(settings), within, _threads(threads)))


def _csv(measured: Any) -> str:
    if isinstance(measured, (str, os.PathLike)) and "\n" not in str(measured):
        return Path(measured).read_text(encoding="utf-8")
    if isinstance(measured, str):
        return measured
    if hasattr(measured, "to_csv"):
        return measured.to_csv(index=False)
    columns = dict(measured)
    rows = zip(*([v] if np.ndim(v) == 0 else list(v) for v in columns.values()), strict=True)
    return "\n".join([",".join(columns), *(",".join(str(cell) for cell in row) for row in rows)]) + "\n"


def calibrate(
    case: Any,
    measured: Any,
    free: Sequence[str] = (),
    *,
    scale: tuple[float, float] | None = None,
    model_error: float | None = None,
    threads: int | None = None,
    **settings: Any,
) -> dict[str, Any]:
    """Which tension, tip or scale explains measured drops, how sure, and what is predicted now?

    ``measured``: a CSV file, its text, a ``pandas.DataFrame`` or a dict of columns, headed as ``KEY [unit]`` and ``diameter [um]``.
    ``scale``: true over read diameter and its relative tolerance, as ``(1.0, 0.02)``.
    """
    text, name = _text_of(case)
    changes = _changes(settings)
    return json.loads(_core.calibrate(text, name, changes, _csv(measured), list(free), scale, model_error, _threads(threads)))


def liquids(name: str | None = None, at: str | None = None) -> dict[str, Any]:
    """Built-in properties with source and range, at ``'20 degC'``: ``{"liquids": [...], "interfaces": [...], "surfactants": [...]}``."""
    return json.loads(_core.liquids(name, at))


def spread(
    readings: Iterable[float] | Iterable[Iterable[float]],
    reading_sd: float | None = None,
    rate: float | None = None,
    flow: float | None = None,
) -> dict[str, Any]:
    """How uniform are measured drops really? Diameters in metres: one a drop, or a list of repeated readings a drop."""
    drops = [[float(d)] if np.ndim(d) == 0 else [float(x) for x in d] for d in readings]
    return json.loads(_core.true_spread(drops, reading_sd, rate, flow))


def examples() -> list[str]:
    """Names of the ready cases (invented data)."""
    return [name for name, _ in _core.examples()]


def example(name: str) -> str:
    """Text of a ready case."""
    found = dict(_core.examples())
    if name not in found:
        raise ValueError(f"there is no example `{name}`; there are {', '.join(found)}")
    return found[name]


def open(path: str | os.PathLike[str]) -> Run:
    """Reads a record of the program or a file of :meth:`Run.save` (needs h5py). Links to other files are not followed."""
    import h5py

    with h5py.File(path, "r") as file:
        schema = file.attrs.get("schema", b"")
        schema = schema.decode() if isinstance(schema, bytes) else str(schema)
        if not schema.startswith(("slenderjet-run-", "slenderjet-python-")):
            raise ValueError(f"{path}: no record of a run (its schema is {schema!r})")

        def inside(name: str):
            where = file
            for part in name.split("/"):
                if not isinstance(where.get(part, getlink=True), h5py.HardLink):
                    raise ValueError(f"{path}: `{name}` leads to another file or is missing")
                where = where[part]
            if where.external or where.is_virtual:
                raise ValueError(f"{path}: `{name}` keeps its values in another file")
            return where

        text = lambda name: inside(name)[()].decode()
        arrays = [inside(n)[()] for n in ("time", "bodies_in_frame", "nodes_in_body", "attached", "z", "h", "u")]
        return Run(json.loads(text("summary/json")), _frames(*arrays), text("case/text"))
