"""What a small net, trained on drawn pages only, says of borders, ground and panels.

The net is evidence beside the rest, never the judge: its log-odds are added along sides, and
its votes are weighed against what is seen. It was trained by ``scripts/train_evidence.py`` on
pages of our own page maker; no weights come from elsewhere. It runs on the CPU through OpenCV.
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
CELL_PX = 8
CELL_MIDDLE_PX = 5.0
"""Where in its cell of the net's page the net was taught that a vote is cast."""
UNIT_PX = 100.0
MOST_SPREAD = 2.0

HALF = float(np.sqrt(0.5))
WAYS = np.array(
    [(-1, 0), (1, 0), (0, -1), (0, 1), (-HALF, -HALF), (HALF, -HALF), (HALF, HALF), (-HALF, HALF)]
)
"""Directions in which votes tell how far a panel reaches, x before y, shape (8, 2)."""


@dataclass(frozen=True, eq=False)
class Votes:
    """What each place of a page says of the panel that it lies in, in working pixels.

    Parameters
    ----------
    places : ndarray of float32, shape (K, 2)
        Places that are hardly ground.
    reach : ndarray of float32, shape (K, 8)
        Greatest coordinate of the panel along each of `WAYS`.
    spread : ndarray of float32, shape (K, 8)
        How far off that may be: scale of a Laplace distribution.
    corners : ndarray of float32, shape (K, 4, 2)
        Top left, top right, bottom right, bottom left.
    cell : float
        Side of the square that a place stands for.
    """

    places: np.ndarray
    reach: np.ndarray
    spread: np.ndarray
    corners: np.ndarray
    cell: float


@dataclass(frozen=True, eq=False)
class LearnedMaps:
    """The net's log-odds on a page, all of shape (M, N), float32, and its votes.

    Parameters
    ----------
    border, ground, inside : ndarray
        That a pixel lies on a panel's border, on the ground, well inside a panel.
    scale : float
        Map pixels for one working pixel.
    votes : Votes
    """

    border: np.ndarray
    ground: np.ndarray
    inside: np.ndarray
    scale: float
    votes: Votes


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
    maps, votes = (np.asarray(out)[0] for out in net.forward(["maps", "votes"]))
    rows, columns = -(-size[1] // 2), -(-size[0] // 2)
    border, ground, inside = (np.ascontiguousarray(m[:rows, :columns]) for m in _woven(maps))
    cast = _votes(votes, ground, scale, (rgb.shape[1], rgb.shape[0]))
    return LearnedMaps(border, ground, inside, scale / 2, cast)


def _woven(maps: np.ndarray) -> np.ndarray:
    """Maps of shape (3, 2M, 2N) from four sub-pixels a place, shape (12, M, N)."""
    _, rows, columns = maps.shape
    woven = maps.reshape(3, 2, 2, rows, columns).transpose(0, 3, 1, 4, 2)
    return np.asarray(woven.reshape(3, 2 * rows, 2 * columns))


def _votes(votes: np.ndarray, ground: np.ndarray, scale: float, size: tuple[int, int]) -> Votes:
    """Votes of the places that are hardly ground, from the net's (24, M, N)."""
    seen = ground[2::4, 2::4] < 0
    row, column = np.nonzero(seen)
    place = np.stack([column, row], axis=1) * float(CELL_PX) + CELL_MIDDLE_PX
    cast = votes[:, row, column].T.astype(np.float64)
    reach = (cast[:, :8] * UNIT_PX + place @ WAYS.T) / scale
    spread = UNIT_PX * np.exp(np.clip(cast[:, 8:16], -5, MOST_SPREAD)) / scale
    corners = (cast[:, 16:].reshape(-1, 4, 2) * UNIT_PX + place[:, None]) / scale
    # No panel reaches beyond its page; the net was taught that art runs on where it bleeds.
    page = np.array([[0, 0], [size[0], 0], size, [0, size[1]]], dtype=np.float64)
    reach = np.minimum(reach, (page @ WAYS.T).max(axis=0))
    corners = np.clip(corners, 0, size)
    return Votes(place / scale, reach, spread, corners, CELL_PX / scale)
