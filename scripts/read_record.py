"""Open a record with h5py and with xarray (engines h5netcdf and netcdf4), show its units, and fail if a reader objects.

Usage: python scripts/read_record.py RUN.h5
"""

import sys

import h5py
import numpy as np
import xarray as xr

GROUPS = ["budget", "drops", "merger", "pinch_off", "neck", "case", "summary", "solver", "provenance"]


def bodies(record, frame):
    """Yield (attached, z, h, u) of every body at one recorded snapshot: how a user unpacks the ragged arrays."""
    in_frame = np.asarray(record["bodies_in_frame"])
    in_body = np.asarray(record["nodes_in_body"])
    first_body = in_frame[:frame].sum()
    for body in range(first_body, first_body + in_frame[frame]):
        start = in_body[:body].sum()
        nodes = slice(start, start + in_body[body])
        yield bool(record["attached"][body]), record["z"][nodes], record["h"][nodes], record["u"][nodes]


def with_h5py(path):
    """Every dataset has units and a name for people; axes are tied to dimension scales."""
    with h5py.File(path, "r") as record:
        assert record.attrs["Conventions"] == b"CF-1.11"
        found = []

        def look(name, item):
            if not isinstance(item, h5py.Dataset):
                return
            found.append(name)
            words = item.dtype.kind in "SO"
            assert item.dtype.kind != "O", f"{name} holds texts of variable length"
            if words:
                # HDF5 does not convert between ASCII and UTF-8, and Octave's load gives a file up where it should
                ascii_only = item[()].tobytes().isascii()
                declared = h5py.check_string_dtype(item.dtype).encoding
                assert declared == ("ascii" if ascii_only else "utf-8"), f"{name}: {declared}"
                assert ascii_only or not name.endswith("json"), f"{name} is not ASCII"
            for attribute in ("long_name",) if words else ("units", "long_name"):
                # fixed-length text, as netCDF writes it: bytes to h5py
                assert isinstance(item.attrs[attribute], bytes) and item.attrs[attribute], f"{name} lacks {attribute}"
            if item.ndim == 1 and not item.is_scale:
                assert len(item.dims[0]) == 1, f"{name} has no dimension scale"
                assert item.dims[0][0].is_scale
                assert item.dims[0][0].shape == item.shape, f"{name} and its dimension differ in length"
            if "flag_values" in item.attrs:
                assert len(item.attrs["flag_values"]) == len(item.attrs["flag_meanings"].split()), name
                assert np.isin(item[()], item.attrs["flag_values"]).all(), f"{name} holds a flag without a meaning"
            if item.size and item.ndim == 1 and item.chunks:
                assert item.compression == "gzip" and item.shuffle, f"{name} is not compressed"

        record.visititems(look)
        assert record["snapshot"].is_scale and len(record["snapshot"]) == len(record["time"])
        assert set(GROUPS) <= set(record), f"groups missing in {list(record)}"
        for frame in range(len(record["time"])):
            for _, z, h, u in bodies(record, frame):
                assert len(z) == len(h) == len(u) and np.isfinite(z).all() and (h >= 0).all()
        print(f"h5py {h5py.__version__}: {len(found)} datasets, {len(record['time'])} snapshots, all with units")


def with_xarray(path, engine):
    """The root and every group open; dimensions carry their names and variables their units."""
    with xr.open_dataset(path, engine=engine) as record:
        assert record["z"].dims == record["h"].dims == record["u"].dims == ("node",), record["z"].dims
        assert record["bodies_in_frame"].dims == record["time"].dims == ("snapshot",) and record["nodes_in_body"].dims == ("body",)
        units = {name: record[name].attrs["units"] for name in ("time", "z", "h", "u")}
        assert units == {"time": "s", "z": "m", "h": "m", "u": "m s-1"}, units
        assert int(record["bodies_in_frame"].sum()) == record.sizes["body"]
        assert int(record["nodes_in_body"].sum()) == record.sizes["node"]
    for group in GROUPS:
        with xr.open_dataset(path, engine=engine, group=group) as part:
            part.load()
            for name, variable in part.variables.items():
                words = variable.dtype.kind in "SUO"
                assert words or variable.attrs.get("units"), f"{group}/{name} lacks units"
    with xr.open_dataset(path, engine=engine, group="drops") as drops:
        table = drops.to_dataframe()
        assert len(table) == drops.sizes["drop"], f"{len(table)} rows for {drops.sizes['drop']} drops"
        assert (table.detachment_time.diff().dropna() >= 0).all(), "drops out of order"
        with xr.open_dataset(path, engine=engine, group="pinch_off") as pinch:
            made = table.pinch_index[table.pinch_index >= 0]
            when = pinch.pinch_time.values[made.values]
            assert (when == table.detachment_time[made.index]).all(), "a drop is not dated by its pinch-off"
    with xr.open_datatree(path, engine=engine) as tree:
        assert "drops" in tree.children
    print(f"xarray {xr.__version__}, engine {engine}: opens, units {units}")


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    with_h5py(sys.argv[1])
    with_xarray(sys.argv[1], "h5netcdf")
    with_xarray(sys.argv[1], "netcdf4")
