"""Time, memory and size of a template with all layers, one fresh process per file kind.

``python scripts/bench_templates.py [DPI]`` prints one line per kind. The aim for a US page
at 600 dpi: under 3 s and 600 MB, and under 5 MB for OpenRaster with empty layers.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import tempfile
import time
from pathlib import Path

KINDS = ("svg", "pdf", "ora", "tif", "png")


def _measure(kind: str, ppi: int, queue: multiprocessing.Queue) -> None:
    """Write one template; send seconds, core seconds, peak megabytes and file megabytes."""
    from panelscan.model.formats import US_PRINT
    from panelscan.model.grid import Grid, GridPanel
    from panelscan.model.outline import Outline
    from panelscan.templates.options import TemplateOptions
    from panelscan.templates.template import write_template

    boxes = [
        Outline.box(0.06 + 0.45 * i, 0.06 + 0.3 * j, 0.49 + 0.45 * i, 0.34 + 0.3 * j)
        for j in range(3)
        for i in range(2)
    ]
    grid = Grid(tuple(GridPanel(b) for b in boxes), 168.275 / 260.35)
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / f"page.{kind}"
        start, busy = time.perf_counter(), time.process_time()
        write_template(grid, US_PRINT, out, TemplateOptions(ppi=ppi, masks=True))
        seconds, busy = time.perf_counter() - start, time.process_time() - busy
        size = out.stat().st_size / 1e6
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    queue.put((seconds, busy, peak, size))


def main() -> None:
    """Print the table."""
    ppi = int(sys.argv[1]) if len(sys.argv) > 1 else 600
    context = multiprocessing.get_context("spawn")
    print(f"US print page, all layers, {ppi} dpi (seconds include the writer's imports)")
    for kind in KINDS:
        queue: multiprocessing.Queue = context.Queue()
        worker = context.Process(target=_measure, args=(kind, ppi, queue))
        worker.start()
        seconds, busy, peak, size = queue.get()
        worker.join()
        print(
            f"{kind:4} {seconds:6.2f} s ({busy:.2f} s of one core)  {peak:6.0f} MB peak  "
            f"{size:8.3f} MB file"
        )


if __name__ == "__main__":
    main()
