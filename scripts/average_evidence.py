"""Mean of the weights of nets that one training wrote after its cycles.

``python scripts/average_evidence.py first.onnx second.onnx --out panelscan/vision/evidence.onnx``

Nets from the ends of neighbouring cycles lie close together, and their mean generalises better
(Izmailov et al. 2018, arXiv 1803.05407; from memory). Needs the onnx package, which is not a
dependency of panelscan.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np


def averaged(paths: list[Path], out: Path) -> None:
    """Write the mean of nets of the same shape."""
    import onnx
    from onnx import numpy_helper

    nets = [onnx.load(str(path)) for path in paths]
    weights = [{i.name: numpy_helper.to_array(i) for i in net.graph.initializer} for net in nets]
    for kept in nets[0].graph.initializer:
        each = [w[kept.name] for w in weights]
        if each[0].dtype == np.float32:
            mean = np.mean(each, axis=0, dtype=np.float64).astype(np.float32)
            kept.CopyFrom(numpy_helper.from_array(mean, kept.name))
    onnx.save(nets[0], str(out))


def main() -> None:
    """Average, write."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("nets", type=Path, nargs="+")
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    averaged(given.nets, given.out)


if __name__ == "__main__":
    main()
