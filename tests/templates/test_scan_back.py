"""A template, printed and scanned by panelscan itself, gives the same grid within 0.2 mm."""

from __future__ import annotations

import pytest

from panelscan.model.formats import US_PRINT
from panelscan.pipeline.stages import look_at
from panelscan.templates.options import InkMode, TemplateOptions
from panelscan.templates.template import write_template
from tests.templates.samples import NAMED


@pytest.mark.parametrize(
    ("name", "kind", "ppi", "ink"),
    [
        ("six", "png", 300, InkMode.COLOUR),
        ("mixed", "tif", 400, InkMode.GRAY),
        ("slanted", "pdf", 300, InkMode.COLOUR),
        ("mixed", "png", 600, InkMode.BLACK_AND_WHITE),
    ],
)
def test_scanned_back_within_a_fifth_of_a_millimetre(tmp_path, name, kind, ppi, ink):
    out = tmp_path / f"page.{kind}"
    report = write_template(NAMED[name], US_PRINT, out, TemplateOptions(ppi=ppi, ink=ink))
    record, _ = look_at(out)
    per_mm = 25.4 / record.resolution.mean_ppi
    dx, dy = US_PRINT.trim_origin_mm
    found = [
        record.finding.panels[i].outline.scaled(per_mm, per_mm).moved(-dx, -dy)
        for i in record.layout.order
    ]
    wanted = [p.outline for p in report.placement.panels]
    assert len(found) == len(wanted)
    for a, b in zip(wanted, found, strict=True):
        assert a.shape.exterior.hausdorff_distance(b.shape.exterior) < 0.2
