"""What a small net, trained on drawn pages only, says of borders, ground and panels' insides.

The net is evidence beside the rest, never the judge: its log-odds are added along sides. It
was trained by ``scripts/train_evidence.py`` on pages of our own page maker; no weights come
from elsewhere. It runs on the CPU through OpenCV.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

import cv2
import numpy as np

LONG_SIDE_PX = 768
MULTIPLE = 64


@dataclass(frozen=True, eq=False)
class LearnedMaps:
    """The net's log-odds on a page, all of shape (M, N), float32.

    Parameters
    ----------
    border, ground, inside : ndarray
        That a pixel lies on a panel's border, on the ground, well inside a panel.
    scale : float
        Map pixels for one working pixel.
    """

    border: np.ndarray
    ground: np.ndarray
    inside: np.ndarray
    scale: float


@lru_cache(maxsize=1)
def _net() -> Any:
    data = files("panelscan.vision").joinpath("evidence.onnx").read_bytes()
    net = cv2.dnn.readNetFromONNX(np.frombuffer(data, dtype=np.uint8))
    return net


def learned_maps(pixels: np.ndarray) -> LearnedMaps:
    """Ask the net about a page.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (M, N) gray or (M, N, 3) RGB
        The working image.

    Returns
    -------
    LearnedMaps
        At half of a page of 768 px on its long side.
    """
    rgb = np.repeat(pixels[..., None], 3, axis=2) if pixels.ndim == 2 else pixels
    scale = LONG_SIDE_PX / max(rgb.shape[:2])
    size = (max(8, round(rgb.shape[1] * scale)), max(8, round(rgb.shape[0] * scale)))
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    small = cv2.resize(rgb, size, interpolation=way)
    below, beside = -small.shape[0] % MULTIPLE, -small.shape[1] % MULTIPLE
    padded = cv2.copyMakeBorder(small, 0, below, 0, beside, cv2.BORDER_REPLICATE)
    net = _net()
    net.setInput(cv2.dnn.blobFromImage(padded, 1 / 255.0))
    out = np.asarray(net.forward())[0]
    rows, columns = -(-size[1] // 2), -(-size[0] // 2)
    border, ground, inside = (np.ascontiguousarray(m[:rows, :columns]) for m in out)
    return LearnedMaps(border, ground, inside, scale / 2)
