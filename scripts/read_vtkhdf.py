"""Hold an export against its record: by the VTKHDF specification with h5py, and with VTK's own reader where that is installed.

Usage: python scripts/read_vtkhdf.py RUN.vtkhdf RUN.h5
"""

import sys

import h5py
import numpy as np

try:
    from vtkmodules.util.numpy_support import vtk_to_numpy
    from vtkmodules.vtkCommonDataModel import vtkDataObject
    from vtkmodules.vtkFiltersCore import vtkMassProperties, vtkThreshold, vtkTriangleFilter
    from vtkmodules.vtkFiltersGeometry import vtkGeometryFilter
    from vtkmodules.vtkIOHDF import vtkHDFReader
except ImportError:
    vtkHDFReader = None

KINDS = ["Vertices", "Lines", "Polygons", "Strips"]


def by_specification(export, path):
    """What VTK file formats, "VTK HDF", version 2.0, PolyData with time steps, asks for; volumes by the divergence theorem."""
    with h5py.File(export, "r") as file, h5py.File(path, "r") as record:
        root, times = file["VTKHDF"], record["time"][:]
        assert list(root.attrs["Version"]) == [2, 0]
        kind = root.attrs.get_id("Type")
        assert root.attrs["Type"] == b"PolyData" and kind.dtype == np.dtype("S8") and kind.get_type().get_cset() == h5py.h5t.CSET_ASCII
        steps, points = root["Steps"], root["Points"]
        n = int(steps.attrs["NSteps"])
        assert n == len(times) and (steps["Values"][:] == times).all()
        count = root["NumberOfPoints"][:]
        assert len(count) == n and points.shape == (count.sum(), 3)
        assert (steps["PartOffsets"][:] == np.arange(n)).all() and (steps["NumberOfParts"][:] == 1).all()
        first = np.concatenate([[0], np.cumsum(count)[:-1]])
        assert (steps["PointOffsets"][:] == first).all()
        for name, values in root["PointData"].items():
            assert len(values) == count.sum() and (steps["PointDataOffsets"][name][:] == first).all(), name
        for column, name in enumerate(KINDS):
            group = root[name]
            cells, entries = group["NumberOfCells"][:], group["NumberOfConnectivityIds"][:]
            assert len(cells) == len(entries) == n and len(group["Offsets"]) == cells.sum() + n, name
            assert len(group["Connectivity"]) == entries.sum()
            for offsets, counts in ((steps["CellOffsets"], cells), (steps["ConnectivityIdOffsets"], entries)):
                assert (offsets[:, column] == np.concatenate([[0], np.cumsum(counts)[:-1]])).all(), name
        polygons = root["Polygons"]
        cells, entries = polygons["NumberOfCells"][:], polygons["NumberOfConnectivityIds"][:]
        checked = 0
        for step in np.unique(np.linspace(0, n - 1, 12).astype(int)):
            at = int(cells[:step].sum() + step)
            offsets = polygons["Offsets"][at : at + cells[step] + 1]
            start = int(entries[:step].sum())
            corners = polygons["Connectivity"][start : start + entries[step]]
            assert offsets[0] == 0 and offsets[-1] == entries[step] and (np.diff(offsets) >= 3).all()
            assert corners.min() >= 0 and corners.max() < count[step]
            rows = slice(first[step], first[step] + count[step])
            xyz, body = points[rows].astype(float), root["PointData"]["body"][rows]
            assert np.allclose(np.hypot(xyz[:, 0], xyz[:, 1]), root["PointData"]["radius"][rows], rtol=1e-5, atol=1e-12)
            volume = np.zeros(body.max() + 1)
            for a, b in zip(offsets[:-1], offsets[1:]):
                fan = xyz[corners[a:b]]
                volume[body[corners[a]]] += sum(np.dot(fan[0], np.cross(fan[i], fan[i + 1])) / 6 for i in range(1, b - a - 1))
            for number, z, h in free_bodies(record, step):
                if h[0] > 0 or h[-1] > 0:
                    continue
                frusta = np.pi / 3 * np.sum(np.diff(z) * (h[1:] ** 2 + h[1:] * h[:-1] + h[:-1] ** 2))
                sides = np.sum((body == number) & np.isclose(xyz[:, 2], z[len(z) // 2], rtol=0, atol=1e-3 * (z[-1] - z[0])))
                polygon = sides / (2 * np.pi) * np.sin(2 * np.pi / sides)
                assert np.isclose(volume[number], frusta * polygon, rtol=1e-2), (volume[number], frusta * polygon)
                checked += 1
        assert checked, "no closed body was looked at"
    print(f"VTKHDF by its specification: {n} steps, volumes of {checked} bodies, outside up")


def free_bodies(record, frame):
    """z and h of the bodies of a snapshot that close on the axis at both ends."""
    in_frame, in_body = record["bodies_in_frame"][:], record["nodes_in_body"][:]
    first = in_frame[:frame].sum()
    for body in range(first, first + in_frame[frame]):
        start = in_body[:body].sum()
        nodes = slice(start, start + in_body[body])
        yield body - first, record["z"][nodes], record["h"][nodes]


def enclosed(surface, number):
    """Volume inside one body, by VTK."""
    one = vtkThreshold()
    one.SetInputData(surface)
    one.SetInputArrayToProcess(0, 0, 0, vtkDataObject.FIELD_ASSOCIATION_POINTS, "body")
    one.SetLowerThreshold(number - 0.5)
    one.SetUpperThreshold(number + 0.5)
    skin = vtkGeometryFilter()
    skin.SetInputConnection(one.GetOutputPort())
    triangles = vtkTriangleFilter()
    triangles.SetInputConnection(skin.GetOutputPort())
    mass = vtkMassProperties()
    mass.SetInputConnection(triangles.GetOutputPort())
    mass.Update()
    return mass.GetVolume()


def by_vtk(export, path):
    reader = vtkHDFReader()
    reader.SetFileName(export)
    reader.UpdateInformation()
    with h5py.File(path, "r") as record:
        times = record["time"][:]
        assert reader.GetNumberOfSteps() == len(times), (reader.GetNumberOfSteps(), len(times))
        checked = 0
        for step in np.unique(np.linspace(0, len(times) - 1, 12).astype(int)):
            reader.SetStep(int(step))
            reader.Update()
            surface = reader.GetOutput()
            points = vtk_to_numpy(surface.GetPoints().GetData())
            data = {name: vtk_to_numpy(surface.GetPointData().GetArray(name)) for name in ("radius", "velocity", "body")}
            assert reader.GetTimeValue() == times[step]
            assert np.allclose(np.hypot(points[:, 0], points[:, 1]), data["radius"], rtol=1e-5, atol=1e-12)
            bodies = list(free_bodies(record, step))
            assert len(np.unique(data["body"])) == len(bodies)
            z = np.concatenate([z for _, z, _ in bodies])
            assert np.isclose(points[:, 2].max(), z.max(), rtol=1e-6) and np.isclose(points[:, 2].min(), z.min(), atol=1e-9)
            # closed ones: VTK's own volume (divergence theorem) against frusta between the recorded nodes
            sides = len(np.unique(np.round(np.arctan2(points[:, 1], points[:, 0])[data["radius"] > 0], 3)))
            polygon = sides / (2 * np.pi) * np.sin(2 * np.pi / sides)
            for number, z, h in bodies:
                if h[0] > 0 or h[-1] > 0:
                    continue
                frusta = np.pi / 3 * np.sum(np.diff(z) * (h[1:] ** 2 + h[1:] * h[:-1] + h[:-1] ** 2))
                volume = enclosed(surface, number)
                assert np.isclose(volume, frusta * polygon, rtol=1e-2), (volume, frusta * polygon)
                checked += 1
        assert checked, "no closed body was looked at"
    print(f"VTK: {len(times)} steps, volumes of {checked} bodies checked")


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    by_specification(*sys.argv[1:])
    if vtkHDFReader is None:
        print("VTK is not installed here: its own reader was not tried")
    else:
        by_vtk(*sys.argv[1:])
