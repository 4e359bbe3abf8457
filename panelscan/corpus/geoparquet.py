"""The ``geo`` key of a Parquet file: GeoParquet 1.1.0 metadata for pages, not for maps.

The tree that is written (GeoParquet 1.1.0, "Metadata")::

    {
      "version": "1.1.0",
      "primary_column": "geometry",
      "columns": {
        "geometry": {
          "encoding": "WKB",
          "geometry_types": ["Polygon"],      exactly those stored
          "crs": null,                        null: no reference system; without the key
                                              readers would take longitude and latitude
          "edges": "planar",
          "orientation": "counterclockwise",  in stored numbers: shoelace area > 0
          "bbox": [xmin, ymin, xmax, ymax],   of all that is stored; absent for no rows
          "covering": {"bbox": {"xmin": ["bbox", "xmin"], ...}}
        }
      }
    }

Pure functions; none opens a file.
"""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pyarrow as pa
import shapely

VERSION = "1.1.0"
KEY = b"geo"
GEOMETRY_COLUMNS: dict[str, dict[str, str | None]] = {
    "pages": {"geometry": "bbox"},
    "panels": {"geometry": "bbox", "geometry_page": None},
    "gutters": {"geometry": "bbox"},
}
_BOX_NAMES = ("xmin", "ymin", "xmax", "ymax")
_KINDS = (
    "Point", "LineString", "Polygon", "MultiPoint", "MultiLineString", "MultiPolygon",
    "GeometryCollection",
)  # fmt: skip


def make(
    table: pa.Table, columns: dict[str, str | None], primary: str = "geometry"
) -> dict[str, Any]:
    """Metadata of a table's geometry columns.

    Parameters
    ----------
    table : pyarrow.Table
        With the columns named, WKB polygons or null.
    columns : dict
        Geometry column -> name of its struct column of boxes, or None.
    primary : str
        The primary column.

    Returns
    -------
    dict
        The tree of the module's text.

    Examples
    --------
    >>> square = shapely.to_wkb(shapely.box(0, 0, 2, 1))
    >>> tree = make(pa.table({"geometry": [square]}), {"geometry": None})
    >>> tree["columns"]["geometry"]["bbox"], tree["columns"]["geometry"]["crs"]
    ([0.0, 0.0, 2.0, 1.0], None)
    """
    described = {name: _describe(table.column(name), box) for name, box in columns.items()}
    return {"version": VERSION, "primary_column": primary, "columns": described}


def _describe(column: pa.ChunkedArray, box: str | None) -> dict[str, Any]:
    shapes = shapes_of(column)
    present = shapes[~shapely.is_missing(shapes)]
    kinds = np.unique(shapely.get_type_id(present))
    told: dict[str, Any] = {
        "encoding": "WKB",
        "geometry_types": sorted(_spelled(int(k)) for k in kinds),
        "crs": None,
        "edges": "planar",
        "orientation": "counterclockwise",
    }
    if len(present):
        told["bbox"] = [float(v) for v in shapely.total_bounds(present)]
    if box is not None:
        told["covering"] = {"bbox": {name: [box, name] for name in _BOX_NAMES}}
    return told


def _spelled(type_id: int) -> str:
    """GeoParquet's spelling of a geometry type."""
    wanted = shapely.GeometryType(type_id).name
    return next(kind for kind in _KINDS if kind.upper() == wanted)


def shapes_of(column: pa.ChunkedArray | pa.Array) -> np.ndarray[Any, Any]:
    """Shapely geometries of a column of WKB, None where null.

    Raises
    ------
    ValueError
        If a value is not WKB.
    """
    try:
        return np.asarray(shapely.from_wkb(column.to_numpy(zero_copy_only=False)), dtype=object)
    except shapely.errors.GEOSException as error:
        raise ValueError(f"a geometry is not WKB: {error}") from error


def merged(trees: list[dict[str, Any]]) -> dict[str, Any]:
    """Metadata of tables laid end to end, from the metadata of each."""
    first = json.loads(json.dumps(trees[0]))
    for name, told in first["columns"].items():
        parts = [tree["columns"][name] for tree in trees]
        told["geometry_types"] = sorted({k for p in parts for k in p["geometry_types"]})
        boxes = np.array([p["bbox"] for p in parts if "bbox" in p])
        if len(boxes):
            told["bbox"] = [*boxes[:, :2].min(axis=0).tolist(), *boxes[:, 2:].max(axis=0).tolist()]
    return dict(first)


def encode(tree: dict[str, Any]) -> bytes:
    """Bytes for the file's metadata."""
    return json.dumps(tree, allow_nan=False).encode()


def decode(metadata: dict[bytes, bytes] | None) -> dict[str, Any]:
    """The tree from a file's metadata.

    Raises
    ------
    ValueError
        If the key is missing or is not a JSON object.
    """
    if not metadata or KEY not in metadata:
        raise ValueError("the file has no geo metadata")
    tree = json.loads(metadata[KEY])
    if not isinstance(tree, dict):
        raise ValueError("the geo metadata is not a JSON object")
    return tree


def faults(tree: dict[str, Any], table: pa.Table | None = None) -> list[str]:
    """What is wrong with a tree, and with a table beside it, one sentence each.

    Parameters
    ----------
    tree : dict
        Metadata as from `decode`.
    table : pyarrow.Table or None
        The rows, to compare the claims with.

    Returns
    -------
    list of str
        Empty where all is well.

    References
    ----------
    GeoParquet 1.1.0, "File metadata", "Column metadata" and "bbox covering".
    """
    found = []
    if tree.get("version") != VERSION:
        found.append(f"geo version is {tree.get('version')!r}, not {VERSION}")
    columns = tree.get("columns")
    if not isinstance(columns, dict) or not columns:
        return [*found, "geo names no columns"]
    if tree.get("primary_column") not in columns:
        found.append("geo's primary column is not among its columns")
    for name, told in columns.items():
        found += [f"{name}: {fault}" for fault in _column_faults(told)]
        if table is not None:
            found += [f"{name}: {fault}" for fault in _row_faults(told, table, name)]
    return found


def _column_faults(told: dict[str, Any]) -> list[str]:
    found = []
    if told.get("encoding") != "WKB":
        found.append("encoding is not WKB")
    if told.get("crs", "absent") is not None:
        found.append("crs is not null, so readers would take it for a map")
    if told.get("edges", "planar") != "planar":
        found.append("edges are not planar")
    if told.get("orientation") != "counterclockwise":
        found.append("orientation is not claimed")
    kinds = told.get("geometry_types")
    if not isinstance(kinds, list) or len(set(kinds)) != len(kinds) or set(kinds) - set(_KINDS):
        found.append("geometry types are not a list of different known names")
    box = told.get("bbox")
    if box is not None and not (len(box) == 4 and box[0] <= box[2] and box[1] <= box[3]):
        found.append("bbox is not minima, then maxima")
    covering = told.get("covering", {}).get("bbox")
    if covering is not None:
        if tuple(covering) != _BOX_NAMES or len({p[0] for p in covering.values()}) != 1:
            found.append("covering does not name one struct's xmin, ymin, xmax, ymax")
    return found


def _row_faults(told: dict[str, Any], table: pa.Table, name: str) -> list[str]:
    if name not in table.column_names:
        return ["the column is missing"]
    shapes = shapes_of(table.column(name))
    present = shapes[~shapely.is_missing(shapes)]
    found = []
    kinds = sorted({_spelled(int(k)) for k in np.unique(shapely.get_type_id(present))})
    if kinds != sorted(told.get("geometry_types", [])):
        found.append(f"stores {kinds}, but claims {told.get('geometry_types')}")
    if len(present):
        bounds = shapely.total_bounds(present)
        if "bbox" in told and not np.allclose(bounds, told["bbox"], rtol=0, atol=1e-9):
            found.append("bbox is not that of the rows")
    if "Polygon" in kinds:
        rings = shapely.get_exterior_ring(present[shapely.get_type_id(present) == 3])
        turned = int((~shapely.is_ccw(rings)).sum())
        if turned:
            found.append(f"{turned} outlines turn clockwise in stored numbers")
    return found
