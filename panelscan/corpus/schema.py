"""Columns of the library's tables: one declaration, used for writing, checking and the docs.

Schema version 1. Lengths carry their unit; ``_share`` columns are shares of the page frame
(x of its width, y of its height). Millimetre columns are null where the resolution is
unknown.
"""

from __future__ import annotations

from dataclasses import dataclass

import pyarrow as pa

SCHEMA_VERSION = 1


@dataclass(frozen=True)
class Column:
    """A column's name, Arrow type and meaning."""

    name: str
    kind: pa.DataType
    meaning: str


_S, _I, _F, _B = pa.string(), pa.int32(), pa.float64(), pa.bool_()
_BBOX = pa.struct([("xmin", _F), ("ymin", _F), ("xmax", _F), ("ymax", _F)])

PAGES = (
    Column("page_id", _S, "identity by content: hash of the source image, with the half's name"),
    Column("book", _S, "book that the page belongs to"),
    Column("source_path", _S, "file as given"),
    Column("source_index", _I, "image inside a PDF, TIFF or archive, from 0"),
    Column("source_member", _S, "name inside an archive, else empty"),
    Column("part", _S, "whole, left, right (half of facing pages) or spread (kept whole)"),
    Column("page_number", _I, "place in the book, from 1"),
    Column("page_side", _S, "left, right or spread: side of the open book"),
    Column("content_sha256", _S, "hash of the source image's bytes"),
    Column("width_px", _I, "width of the upright source image"),
    Column("height_px", _I, "height of the upright source image"),
    Column("x_ppi", _F, "pixels per inch along x, null where unknown"),
    Column("y_ppi", _F, "pixels per inch along y, null where unknown"),
    Column("resolution_source", _S, "file, pdf, given, page-format, or null"),
    Column("width_mm", _F, "width of the page frame"),
    Column("height_mm", _F, "height of the page frame"),
    Column("geometry", pa.binary(), "page frame, WKB polygon in pixels of the source image"),
    Column("bbox", _BBOX, "bounding box of geometry"),
    Column("aspect", _F, "width of the page frame divided by its height"),
    Column("skew_deg", _F, "turn of the page, counterclockwise to the eye positive"),
    Column("ground_kind", _S, "white, tinted, colour or black"),
    Column("ground_rgb", _S, "colour between the panels, #rrggbb"),
    Column("direction", _S, "ltr or rtl"),
    Column("direction_confidence", _F, "1 where the artist gave it"),
    Column("confidence", _F, "probability that the page is right as a whole"),
    Column("panel_count", _I, "number of panels"),
    Column("tier_count", _I, "number of tiers"),
    Column("tier_pattern", _S, "panels in each tier from the top, e.g. 2-1-3"),
    Column("grid_text", _S, "the grid in panelscan's written notation"),
    Column("clarity", _F, "how surely readers follow the best order, 0..1"),
    Column("patterns", pa.list_(_S), "trade words that hold for the page"),
    Column("alternative_orders", _S, "JSON: other reading orders with their probabilities"),
    Column("readings", _S, "JSON: other sets of panels with their probabilities"),
    Column("doubts", _S, "JSON: where a person should look"),
    Column("margin_left_share", _F, "free margin at the left, share of the page's width"),
    Column("margin_top_share", _F, "free margin at the top, share of the page's height"),
    Column("margin_right_share", _F, "free margin at the right, share of the page's width"),
    Column("margin_bottom_share", _F, "free margin at the bottom, share of the page's height"),
    Column("margin_left_mm", _F, "free margin at the left"),
    Column("margin_top_mm", _F, "free margin at the top"),
    Column("margin_right_mm", _F, "free margin at the right"),
    Column("margin_bottom_mm", _F, "free margin at the bottom"),
    Column("tier_gutter_share", _F, "median width of gutters between tiers, share of width"),
    Column("column_gutter_share", _F, "median width of gutters in a tier, share of width"),
    Column("tier_gutter_mm", _F, "median width of gutters between tiers"),
    Column("column_gutter_mm", _F, "median width of gutters in a tier"),
    Column("gutter_cv", _F, "coefficient of variation of the gutters' widths"),
    Column("bleed_left", _B, "a panel runs off the left edge"),
    Column("bleed_top", _B, "a panel runs off the top edge"),
    Column("bleed_right", _B, "a panel runs off the right edge"),
    Column("bleed_bottom", _B, "a panel runs off the bottom edge"),
    Column("symmetry", _F, "IoU-like agreement with the mirror image, 0..1"),
    Column("density", _F, "share of the page covered by panels"),
    Column("contrast", _F, "area of the largest panel divided by the smallest"),
    Column("ink_density", _F, "mean ink density of the panels"),
    Column("vector", pa.list_(pa.float32()), "fixed-length vector of the grid, for searching"),
    Column("detector", _S, "name and version of what found the panels"),
    Column("settings", _S, "JSON: options that the result depends on"),
    Column("notes", pa.list_(_S), "what was repaired or assumed while reading"),
    Column("scanned_at", _S, "UTC time of the scan, ISO 8601"),
    Column("reviewed", _B, "a person has looked at the page and put it right"),
    Column("revision", _I, "number of corrections made to the page, undone ones included"),
    Column("detection", _S, "short hash of what was detected, before any correction"),
    Column("fold_x_px", _F, "where the fold of a kept spread lies, in source pixels"),
    Column("balloons", pa.list_(pa.binary()), "balloons and captions found, WKB in source pixels"),
    Column("measures", _S, "JSON: further figures of the page, by name"),
    Column("look", pa.binary(), "coarse grey picture of the page frame, for knowing it again"),
)

PANELS = (
    Column("page_id", _S, "page that the panel is on"),
    Column("book", _S, "book that the page belongs to"),
    Column("source_path", _S, "file as given"),
    Column("source_index", _I, "image inside a PDF, TIFF or archive, from 0"),
    Column("page_number", _I, "place of the page in the book, from 1"),
    Column("reading_order", _I, "place on the page, from 1"),
    Column("geometry", pa.binary(), "WKB polygon in pixels of the upright source image"),
    Column("bbox", _BBOX, "bounding box of geometry"),
    Column("geometry_page", pa.binary(), "WKB polygon in page-relative units (0..1 of the frame)"),
    Column("confidence", _F, "probability that the outline is right (IoU at least 0.9)"),
    Column("area_share", _F, "share of the page frame's area"),
    Column("x_min_share", _F, "left of the box, share of the page's width"),
    Column("y_min_share", _F, "top of the box, share of the page's height"),
    Column("x_max_share", _F, "right of the box, share of the page's width"),
    Column("y_max_share", _F, "bottom of the box, share of the page's height"),
    Column("width_mm", _F, "width of the box"),
    Column("height_mm", _F, "height of the box"),
    Column("area_mm2", _F, "area"),
    Column("aspect", _F, "width of the box divided by its height, in true proportions"),
    Column("corner_count", _I, "number of corners"),
    Column("shape", _S, "rectangle, slanted, polygon or round"),
    Column("slant_deg", _F, "largest turn of a side from upright or level"),
    Column("tier", _I, "tier from the top, from 1"),
    Column("place_in_tier", _I, "place in the tier in reading order, from 1"),
    Column("is_full_tier", _B, "alone in a tier of full width"),
    Column("is_inset", _B, "inset in another panel"),
    Column("host_order", _I, "reading order of the host of an inset, else null"),
    Column("depth", _I, "0 for the back"),
    Column("bleed_left", _B, "runs off the left edge"),
    Column("bleed_top", _B, "runs off the top edge"),
    Column("bleed_right", _B, "runs off the right edge"),
    Column("bleed_bottom", _B, "runs off the bottom edge"),
    Column("side_states", pa.list_(_S), "per side: drawn, inferred, bleed or shared"),
    Column("side_support", pa.list_(_F), "per side: share of the length with evidence"),
    Column("border_px", _F, "median width of the drawn border, null where none is drawn"),
    Column("border_mm", _F, "the same"),
    Column("wobble_mm", _F, "RMS distance of the drawn border from straight sides"),
    Column("free_top_share", _F, "calm strip at the top, share of the panel's height"),
    Column("lettered_share", _F, "share covered by balloons and captions found (approximate)"),
    Column("ink_density", _F, "share of dark or busy pixels"),
    Column("side_border_px", pa.list_(_F), "per side: width of the drawn border, or null"),
    Column("side_wobble_px", pa.list_(_F), "per side: RMS distance from straight, or null"),
    Column("burst", pa.list_(pa.binary()), "art beyond the border, WKB in source pixels"),
)

GUTTERS = (
    Column("page_id", _S, "page that the gutter is on"),
    Column("book", _S, "book that the page belongs to"),
    Column("page_number", _I, "place of the page in the book, from 1"),
    Column("kind", _S, "tier (runs across) or column (runs down)"),
    Column("panel_a", _I, "reading order of one panel"),
    Column("panel_b", _I, "reading order of the other"),
    Column("geometry", pa.binary(), "WKB polygon of the strip in source pixels, null if shared"),
    Column("bbox", _BBOX, "bounding box of geometry"),
    Column("width_px", _F, "mean width"),
    Column("width_mm", _F, "mean width"),
    Column("width_share", _F, "mean width as a share of the page's width"),
    Column("width_min_px", _F, "least width along the strip"),
    Column("width_max_px", _F, "greatest width along the strip"),
    Column("length_share", _F, "length as a share of the page's width"),
    Column("position_share", _F, "middle of the strip across its run, share of height or width"),
    Column("angle_deg", _F, "turn from level (tier) or upright (column)"),
)

TABLES = {"pages": PAGES, "panels": PANELS, "gutters": GUTTERS}


def arrow_schema(table: str) -> pa.Schema:
    """Arrow schema of a table of the library.

    Parameters
    ----------
    table : str
        ``"pages"``, ``"panels"`` or ``"gutters"``.
    """
    return pa.schema([pa.field(c.name, c.kind) for c in TABLES[table]])
