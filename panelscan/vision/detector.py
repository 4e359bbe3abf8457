"""Finding the panels of a page: the named steps in order.

frame -> ground -> segments -> candidates -> selection -> sides -> final. Each step is a pure
function of its own module; this one only hands results on.
"""

from __future__ import annotations

from panelscan.model.outline import Outline
from panelscan.model.page import PageImage
from panelscan.model.panel import Doubt, PageFinding, Panel, Side
from panelscan.vision.book_prior import BookPrior
from panelscan.vision.ground import find_ground
from panelscan.vision.polygons import fit_quad
from panelscan.vision.regions import RegionSettings, regions_of
from panelscan.vision.trace import Trace, keep
from panelscan.vision.working import working_image

DETECTOR = "panelscan frames 1"


def find_panels(
    image: PageImage, prior: BookPrior | None = None, trace: Trace | None = None
) -> PageFinding:
    """Panels of one page.

    Parameters
    ----------
    image : PageImage
        The page, upright.
    prior : BookPrior or None
        What the other pages of the book say.
    trace : Trace or None
        Collects each step's evidence when given.

    Returns
    -------
    PageFinding
        Outlines in source pixels of the upright image.
    """
    work = working_image(image)
    x0, y0 = image.offset_px
    frame = Outline.box(x0, y0, x0 + image.width_px, y0 + image.height_px)
    keep(trace, "frame", working=work, frame=frame)
    grounds = find_ground(work, expected_rgb=prior.ground_rgb if prior else None)
    ground = grounds[0]
    keep(trace, "ground", map=ground)
    panels = []
    for region in regions_of(ground.open, 0.0, RegionSettings()):
        fitted = fit_quad(region.mask, work.unit_px)
        if fitted is None:
            continue
        corners, fits = fitted
        corners = corners + region.box[:2]
        if min(f.support for f in fits.values()) < 0.3:
            continue
        outline = Outline.of(work.source_points(corners))
        sides = tuple(Side(support=min(1.0, f.support)) for f in fits.values())
        panels.append(Panel(outline, sides, confidence=0.5))
    doubts = () if panels else (Doubt("no-panels", "No panels were found on this page."),)
    return PageFinding(
        frame=frame,
        skew_deg=0.0,
        ground=ground.ground,
        panels=tuple(panels),
        confidence=0.5 if panels else 0.05,
        doubts=doubts,
        detector=DETECTOR,
    )
