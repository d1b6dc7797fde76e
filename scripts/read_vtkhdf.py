"""Open an export with VTK and hold it against its record: times, and the volume inside the surfaces of an instant.

Usage: python scripts/read_vtkhdf.py RUN.vtkhdf RUN.h5
"""

import sys

import h5py
import numpy as np
from vtkmodules.util.numpy_support import vtk_to_numpy
from vtkmodules.vtkCommonDataModel import vtkDataObject
from vtkmodules.vtkFiltersCore import vtkMassProperties, vtkThreshold, vtkTriangleFilter
from vtkmodules.vtkFiltersGeometry import vtkGeometryFilter
from vtkmodules.vtkIOHDF import vtkHDFReader


def free_bodies(record, frame):
    """z and h of the bodies of an instant that close on the axis at both ends."""
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


def main(export, path):
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
    main(*sys.argv[1:])
