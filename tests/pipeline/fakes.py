"""Stand-ins for the finding of panels, quick and settled beforehand; importable by workers."""

from __future__ import annotations

import os
import signal
import time

import numpy as np

from panelscan.errors import InputError
from panelscan.intake.options import LoadedPage
from panelscan.intake.sources import SourcePage
from panelscan.model.outline import Outline
from panelscan.model.panel import Doubt, Ground, GroundKind, PageFinding, Panel
from panelscan.pipeline import stages
from panelscan.pipeline.options import ScanOptions
from panelscan.pipeline.stages import PageAnswer


def find(loaded: LoadedPage, prior=None, trace=None) -> PageFinding:
    """Two panels side by side on every page; dark pages are doubtful at first sight."""
    from panelscan.vision.detector import DETECTOR

    image = loaded.image
    x, y = image.offset_px
    width, height = image.width_px, image.height_px
    boxes = [(0.05, 0.05, 0.45, 0.95), (0.55, 0.05, 0.95, 0.95)]
    panels = [
        Panel(Outline.box(x + a * width, y + b * height, x + c * width, y + d * height))
        for a, b, c, d in boxes
    ]
    doubtful = float(np.mean(image.pixels)) < 128
    confidence = 0.4 if doubtful else 0.95
    if prior is not None:
        confidence = 0.9
    return PageFinding(
        frame=Outline.box(x, y, x + width, y + height),
        skew_deg=0.0,
        ground=Ground(GroundKind.WHITE, (255, 255, 255)),
        panels=tuple(panels),
        confidence=confidence,
        doubts=(Doubt("dark", "The page is very dark."),) if doubtful else (),
        detector=DETECTOR,
    )


def deadly_answer(page: SourcePage, options: ScanOptions, prior=None) -> PageAnswer:
    """`answer_page` with the stand-in; some file names kill or hang the process in hand."""
    if "crash" in page.source_path:
        os.kill(os.getpid(), signal.SIGSEGV)
    if "leave" in page.source_path:
        os._exit(3)
    if "hang" in page.source_path:
        time.sleep(600)
    stages.find = find
    return stages.answer_page(page, options, prior)


def answer_on_cluster(page: SourcePage, options: ScanOptions, prior=None) -> PageAnswer:
    """`deadly_answer` that also kills the cluster's worker, the first time it meets a page."""
    mark = page.source_path + ".met"
    if "lost" in page.source_path and not os.path.exists(mark):  # noqa: PTH110
        with open(mark, "w"):  # noqa: PTH123
            pass
        os.kill(os.getppid(), signal.SIGKILL)
        time.sleep(600)
    return deadly_answer(page, options, prior)


def double(value: int) -> int:
    return 2 * value


def fail(text: str) -> None:
    raise InputError(f"{text}: it is bad.", "Mend it.")


def crash() -> None:
    os.kill(os.getpid(), signal.SIGSEGV)


def leave() -> None:
    os._exit(7)


def hang() -> None:
    time.sleep(600)


def unsendable() -> object:
    return lambda: None


def killed_once(mark: str) -> str:
    """Killed from outside the first time, as when memory runs out; then fine."""
    if not os.path.exists(mark):  # noqa: PTH110
        with open(mark, "w"):  # noqa: PTH123
            pass
        os.kill(os.getpid(), signal.SIGKILL)
    return "done"


def hungry() -> int:
    return len(bytearray(200 << 30))


def process_id() -> int:
    return os.getpid()
