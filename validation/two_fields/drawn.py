"""Twelve co-flows that nobody looked at, drawn after the rays behind a tip in a tube were settled: `validation/confirm/unseen.py` with a seed of
its own, tubes of up to 58 R and no orifices; the same commands (draw, compute, collect). The first five tips are thin."""

import pathlib
import sys

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "confirm"))

import unseen  # noqa: E402

unseen.COFLOW = dict(seed=20261251, count=12, low=(0.04, 0.05, 0.1, 4.0, 1.2), high=(0.3, 1.0, 10.0, 58.0, 2.5))
unseen.ORIFICE = dict(unseen.ORIFICE, count=0)
unseen.HERE = HERE

if __name__ == "__main__":
    unseen.main()
