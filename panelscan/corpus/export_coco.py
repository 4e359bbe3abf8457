"""COCO instances JSON: pages as images, panels as annotations.

References
----------
T.-Y. Lin et al., "Microsoft COCO: common objects in context", ECCV 2014; field names and the
order of box numbers (x, y, width, height, in pixels from the top-left corner) as the data
format page of the COCO data set gives them (from memory); read back in the tests with
pycocotools.
"""

from __future__ import annotations

import json
from typing import Any

import pyarrow as pa
import shapely

from panelscan.corpus.geoparquet import shapes_of

CATEGORY = {"id": 1, "name": "panel", "supercategory": "page"}


def coco_json(pages: pa.Table, panels: pa.Table) -> bytes:
    """COCO instances of the pages chosen.

    Parameters
    ----------
    pages, panels : pyarrow.Table
        As in `panelscan.corpus.export.Chosen`.

    Returns
    -------
    bytes
        JSON in UTF-8. An image is a whole source image: two pages that are halves of one
        image share it. Beside the usual fields an annotation has ``score``,
        ``reading_order`` and ``page_id``.
    """
    images: dict[tuple[str, str], dict[str, Any]] = {}
    image_of: dict[str, int] = {}
    columns = ("page_id", "source_path", "source_index", "content_sha256", "width_px", "height_px")
    for page in pages.select(list(columns)).to_pylist():
        key = (page["content_sha256"], page["source_path"])
        if key not in images:
            images[key] = {
                "id": len(images) + 1,
                "file_name": page["source_path"],
                "source_index": page["source_index"],
                "width": page["width_px"],
                "height": page["height_px"],
            }
        image_of[page["page_id"]] = images[key]["id"]
    told = {
        "info": {"description": "Panels of comic pages, exported by panelscan"},
        "licenses": [],
        "categories": [CATEGORY],
        "images": list(images.values()),
        "annotations": _annotations(panels, image_of),
    }
    return json.dumps(told, ensure_ascii=False, indent=1).encode()


def _annotations(panels: pa.Table, image_of: dict[str, int]) -> list[dict[str, Any]]:
    shapes = shapes_of(panels["geometry"])
    rows = panels.select(["page_id", "reading_order", "confidence"]).to_pylist()
    found: list[dict[str, Any]] = []
    for row, shape in zip(rows, shapes, strict=True):
        if row["page_id"] not in image_of:
            continue
        x0, y0, x1, y1 = shape.bounds
        ring = shapely.get_coordinates(shape.exterior)[:-1]
        found.append(
            {
                "id": len(found) + 1,
                "image_id": image_of[row["page_id"]],
                "category_id": CATEGORY["id"],
                "segmentation": [[round(float(v), 3) for v in ring.ravel()]],
                "area": round(float(shape.area), 3),
                "bbox": [round(float(v), 3) for v in (x0, y0, x1 - x0, y1 - y0)],
                "iscrowd": 0,
                "score": row["confidence"],
                "reading_order": row["reading_order"],
                "page_id": row["page_id"],
            }
        )
    return found
