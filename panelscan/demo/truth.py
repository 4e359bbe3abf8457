"""What is really on a page: panels, order, frame; as objects and as JSON beside the picture.

All coordinates are pixels of the image, (0, 0) the top-left corner of the first pixel. In
the JSON files the order counts from 1, as people do; in the objects from 0.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from panelscan.errors import InputError
from panelscan.model.outline import Outline

PointMap = Callable[[np.ndarray], np.ndarray]
"""Maps an (N, 2) array of points (x, y) to another."""


@dataclass(frozen=True)
class PanelTruth:
    """One true panel.

    Parameters
    ----------
    outline : Outline
        Centre line of the drawn border, or the edge of the art where none is drawn; straight
        on through hidden parts, clipped at the trim.
    page : int
        Which of the image's pages it is on, from 0.
    border : str
        ``"ruled"``, ``"hand"``, ``"soft"`` or ``"none"``.
    bleed : tuple of str
        Page edges it runs off.
    inset_in : int or None
        Place in the order (from 0) of its host.
    corners : Outline or None
        The planned frame with its few corners, where ``outline`` follows a shaky line.
    open_sides : tuple of int
        Sides of ``corners`` (or of ``outline``) along which nothing is drawn.
    depth : int
        0 for the back.
    burst : tuple of Outline
        Parts of the art that stick out over the border.
    """

    outline: Outline
    page: int = 0
    border: str = "ruled"
    bleed: tuple[str, ...] = ()
    inset_in: int | None = None
    corners: Outline | None = None
    open_sides: tuple[int, ...] = ()
    depth: int = 0
    burst: tuple[Outline, ...] = ()


@dataclass(frozen=True)
class PageTruth:
    """All that is true of one image; ``panels`` stand in reading order.

    Parameters
    ----------
    width_px, height_px : int
        Size of the image.
    pages : tuple of Outline
        Frame of each page in the image (four corners), in reading order; a picture across
        both pages of a spread counts as one page.
    panels : tuple of PanelTruth
        In reading order.
    category, direction : str
        Category of the scores; ``"ltr"`` or ``"rtl"``.
    image : str
        Name of the picture file, relative to the folder above the truth file's.
    dpi : float or None
        Pixels per inch.
    orders_also_fine : tuple of tuple of int
        Other orders that a careful reader may take, as places (from 0) in ``panels``.
    ambiguous : bool
        Careful people could disagree on the set of panels.
    balloons : tuple of Outline
        Balloons and captions.
    ground_rgb : tuple of int or None
        Colour between the panels.
    gutter_px : float or None
        Planned gutter.
    skew_deg : float or None
        Turn of the page, counterclockwise to the eye positive; None for a photo.
    fold_x_px : float or None
        Where the fold of facing pages lies, at half height.
    facing : str
        ``""`` one page, ``"facing"`` two pages, ``"double"`` one picture across both.
    style, hand, book : str
        Drawing style, drawing hand and book.
    extra : dict
        ``source_index``: page inside a PDF, from 0.
    """

    width_px: int
    height_px: int
    pages: tuple[Outline, ...]
    panels: tuple[PanelTruth, ...]
    category: str = ""
    direction: str = "ltr"
    image: str = ""
    dpi: float | None = None
    orders_also_fine: tuple[tuple[int, ...], ...] = ()
    ambiguous: bool = False
    notes: str = ""
    balloons: tuple[Outline, ...] = ()
    ground_rgb: tuple[int, int, int] | None = None
    gutter_px: float | None = None
    skew_deg: float | None = 0.0
    fold_x_px: float | None = None
    facing: str = ""
    style: str = ""
    hand: str = ""
    book: str = ""
    extra: dict[str, Any] = field(default_factory=dict)

    def mapped(self, point_map: PointMap, width_px: int, height_px: int) -> PageTruth:
        """The truth of the image after each point has been moved by ``point_map``."""

        def move(outline: Outline) -> Outline:
            return lenient_outline(point_map(outline.array()))

        def move_panel(p: PanelTruth) -> PanelTruth:
            return replace(
                p,
                outline=move(p.outline),
                corners=move(p.corners) if p.corners else None,
                burst=tuple(move(b) for b in p.burst),
            )

        fold = self.fold_x_px
        if fold is not None:
            fold = float(point_map(np.array([[fold, self.height_px / 2]]))[0, 0])
        return replace(
            self,
            width_px=width_px,
            height_px=height_px,
            pages=tuple(move(p) for p in self.pages),
            panels=tuple(move_panel(p) for p in self.panels),
            balloons=tuple(move(b) for b in self.balloons),
            fold_x_px=fold,
        )

    def to_json(self) -> dict[str, Any]:
        """Plain data for a JSON file; order from 1."""
        return {
            "image": self.image,
            "width": self.width_px,
            "height": self.height_px,
            "category": self.category,
            "direction": self.direction,
            "dpi": self.dpi,
            "pages": [{"quad": _rounded(p)} for p in self.pages],
            "panels": [_panel_json(i, p) for i, p in enumerate(self.panels)],
            "orders_also_fine": [[i + 1 for i in o] for o in self.orders_also_fine],
            "ambiguous": self.ambiguous,
            "notes": self.notes,
            "balloons": [_rounded(b) for b in self.balloons],
            "ground_rgb": self.ground_rgb,
            "gutter_px": self.gutter_px,
            "skew_deg": self.skew_deg,
            "fold_x": self.fold_x_px,
            "facing": self.facing,
            "style": self.style,
            "hand": self.hand,
            "book": self.book,
            **self.extra,
        }

    def write(self, path: Path) -> None:
        """Write the JSON file, one panel to a line."""
        data = self.to_json()
        lines = [f" {json.dumps(k)}: {_json_value(k, v)}" for k, v in data.items()]
        path.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


def read_truth(path: Path) -> PageTruth:
    """Read a truth file, ours or made by hand.

    Parameters
    ----------
    path : Path
        JSON file with at least ``image``, ``width``, ``height`` and ``panels``.

    Raises
    ------
    InputError
        If the file is no JSON or lacks a key.
    """
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        width, height = int(data["width"]), int(data["height"])
        listed = sorted(data["panels"], key=lambda p: p["order"])
        place = {p["order"]: i for i, p in enumerate(listed)}
        whole = Outline.box(0, 0, width, height)
        pages = tuple(lenient_outline(p["quad"]) for p in data.get("pages", [])) or (whole,)
        ground = data.get("ground_rgb")
        return PageTruth(
            width_px=width,
            height_px=height,
            pages=pages,
            panels=tuple(_panel_from(p, place) for p in listed),
            category=data.get("category") or "",
            direction=data.get("direction") or "ltr",
            image=data["image"],
            dpi=data.get("dpi"),
            orders_also_fine=tuple(
                tuple(place[n] for n in o) for o in data.get("orders_also_fine", [])
            ),
            ambiguous=bool(data.get("ambiguous")),
            notes=data.get("notes") or "",
            balloons=tuple(lenient_outline(b) for b in data.get("balloons", [])),
            ground_rgb=(ground[0], ground[1], ground[2]) if ground else None,
            gutter_px=data.get("gutter_px"),
            skew_deg=data.get("skew_deg"),
            fold_x_px=data.get("fold_x"),
            facing=data.get("facing") or "",
            style=data.get("style") or "",
            hand=data.get("hand") or "",
            book=data.get("book") or "",
            extra={k: data[k] for k in ("source_index",) if k in data},
        )
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(
            f"{path}: this is no truth file of a page ({error}).",
            "It needs image, width, height and panels with order and polygon.",
        ) from error


def lenient_outline(points: Sequence[Sequence[float]] | np.ndarray) -> Outline:
    """Outline of a ring that may touch or cross itself: its greatest part is kept."""
    ring = [(float(x), float(y)) for x, y in points]
    try:
        return Outline.of(ring)
    except ValueError:
        mended = shapely.make_valid(shapely.Polygon(ring))
        parts = [g for g in getattr(mended, "geoms", [mended]) if g.geom_type == "Polygon"]
        parts += [
            q for g in getattr(mended, "geoms", []) if g.geom_type == "MultiPolygon"
            for q in g.geoms
        ]  # fmt: skip
        if not parts:
            raise
        return Outline.from_shape(max(parts, key=lambda g: g.area))


def _panel_from(p: dict[str, Any], place: dict[int, int]) -> PanelTruth:
    host, corners = p.get("inset_in"), p.get("corners")
    return PanelTruth(
        outline=lenient_outline(p["polygon"]),
        page=int(p.get("page") or 0),
        border=p.get("border") or "ruled",
        bleed=tuple(p.get("bleed") or ()),
        inset_in=place[host] if host is not None else None,
        corners=lenient_outline(corners) if corners else None,
        open_sides=tuple(p.get("open_sides") or ()),
        depth=int(p.get("depth") or 0),
        burst=tuple(lenient_outline(b) for b in p.get("burst", [])),
    )


def _panel_json(index: int, p: PanelTruth) -> dict[str, Any]:
    return {
        "order": index + 1,
        "page": p.page,
        "polygon": _rounded(p.outline),
        "border": p.border,
        "bleed": list(p.bleed),
        "inset_in": None if p.inset_in is None else p.inset_in + 1,
        "corners": _rounded(p.corners) if p.corners else None,
        "open_sides": list(p.open_sides),
        "depth": p.depth,
        "burst": [_rounded(b) for b in p.burst],
    }


def _rounded(outline: Outline) -> list[list[float]]:
    return [[round(x, 2), round(y, 2)] for x, y in outline.points]


def _json_value(key: str, value: Any) -> str:
    if key in ("panels", "balloons", "pages") and value:
        return "[\n" + ",\n".join(f"  {json.dumps(v)}" for v in value) + "\n ]"
    return json.dumps(value, ensure_ascii=False)
