"""How fast pages are read, as a ratio to decoding them, and how much memory that takes.

    python scripts/bench.py                 300 and 600 dpi pages, JPEG and PNG
    python scripts/bench.py --short         one small page
    python scripts/bench.py --profile       where the time goes, by function
    python scripts/bench.py --real FOLDER   pages of a folder instead
    python scripts/bench.py --habits        the habits of 5,000 and 1,000,000 pages instead

Times are medians. The yardstick is ``cv2.imread(path, IMREAD_COLOR)`` of the same file in
the same run, in the same process, so that the figures can be compared across machines.
"""

from __future__ import annotations

import argparse
import cProfile
import io
import json
import multiprocessing
import os
import pstats
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

SHEETS = {
    "300 dpi A4": ("grid", 3508, 300.0),
    "600 dpi 11 x 17 in": ("mixed", 10200, 600.0),
}
"""Category, height in pixels and resolution of the drawn pages."""

KINDS = ("jpg", "png")


@dataclass(frozen=True)
class Timing:
    """Figures of one file.

    Parameters
    ----------
    name : str
        Sheet and file kind.
    megapixels, file_mb : float
        Size of the picture and of its file.
    decode_s, page_s : float
        Median seconds to decode it in full colour, and to read the page from file to record.
    ratio : float
        ``page_s / decode_s``.
    peak_mb : float
        Greatest memory of a fresh process that reads the page once, whole process.
    base_mb : float
        Memory of the same process when all is loaded and no page has been read.
    """

    name: str
    megapixels: float
    file_mb: float
    decode_s: float
    page_s: float
    ratio: float
    peak_mb: float
    base_mb: float


def draw_sheet(folder: Path, sheet: str, seed: int, kind: str) -> Path:
    """Draw a page at full size and write it; a page of 11 x 17 in is enlarged to its size."""
    import cv2
    from PIL import Image

    from panelscan.demo.maker import draw_page
    from panelscan.demo.wear import Wear

    category, height, dpi = SHEETS[sheet]
    drawn_height = min(height, 3600)
    page = draw_page(category, seed, style="flat", height_px=drawn_height, wear=Wear(noise=1.5))
    pixels = page.pixels
    if drawn_height != height:
        width = round(pixels.shape[1] * height / pixels.shape[0])
        pixels = cv2.resize(pixels, (width, height), interpolation=cv2.INTER_CUBIC)
    path = folder / f"{sheet.replace(' ', '_')}_{seed}.{kind}"
    Image.fromarray(pixels).save(path, dpi=(dpi, dpi), quality=90, compress_level=1)
    return path


def read_once(path: Path) -> None:
    """Read a page as a scan does, with no library."""
    from panelscan.pipeline.stages import look_at

    look_at(path)


def time_file(path: Path, name: str, rounds: int) -> Timing:
    """Time decoding and reading of one file."""
    import cv2

    cv2.setNumThreads(1)
    read_once(path)  # imports and caches are not counted
    decode, page = [], []
    shape: tuple[int, ...] = (0, 0)
    for _ in range(rounds):
        start = time.perf_counter()
        shape = cv2.imread(str(path), cv2.IMREAD_COLOR).shape
        middle = time.perf_counter()
        read_once(path)
        decode.append(middle - start)
        page.append(time.perf_counter() - middle)
    base, peak = memory_of(path)
    decode_s, page_s = float(np.median(decode)), float(np.median(page))
    return Timing(
        name, shape[0] * shape[1] / 1e6, path.stat().st_size / 1e6, decode_s, page_s,
        page_s / decode_s, peak, base,
    )  # fmt: skip


def memory_of(path: Path) -> tuple[float, float]:
    """Memory in MB of a fresh process: all loaded, and at its greatest while reading."""
    lines = [
        "import sys; sys.path.insert(0, sys.argv[2])",
        "from pathlib import Path; import bench; from scripts.measured import peak_mb",
        "import cv2, panelscan.pipeline.stages, panelscan.vision.detector",
        "cv2.setNumThreads(1); a = peak_mb()",
        "bench.read_once(Path(sys.argv[1])); print(a, peak_mb())",
    ]
    here = str(Path(__file__).resolve().parent)
    command = [sys.executable, "-c", "\n".join(lines), str(path), here]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    base, peak = done.stdout.split()[-2:]
    return float(base), float(peak)


def pages_per_second(paths: list[Path], workers: int) -> float:
    """Pages that so many worker processes read in a second, start of the workers left out."""
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=context, initializer=_one_thread) as pool:
        list(pool.map(read_once, [paths[0]] * workers * 2))
        start = time.perf_counter()
        list(pool.map(read_once, paths))
        return len(paths) / (time.perf_counter() - start)


def _one_thread() -> None:
    import cv2

    cv2.setNumThreads(1)


def profile(path: Path, lines: int = 30) -> str:
    """Where the time of one page goes, by function."""
    read_once(path)
    watch = cProfile.Profile()
    watch.runcall(read_once, path)
    text = io.StringIO()
    pstats.Stats(watch, stream=text).strip_dirs().sort_stats("tottime").print_stats(lines)
    return text.getvalue()


def options(arguments: list[str] | None) -> argparse.Namespace:
    """Command-line options."""
    plain = argparse.RawTextHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=plain)
    parser.add_argument("--short", action="store_true", help="one page of each kind, once")
    parser.add_argument("--rounds", type=int, default=5, help="times each page is read")
    parser.add_argument("--pages", type=int, default=16, help="pages for the workers' race")
    parser.add_argument("--profile", action="store_true", help="where the time goes")
    parser.add_argument("--real", type=Path, help="pages of this folder instead of drawn ones")
    parser.add_argument("--habits", action="store_true", help="habits of whole libraries instead")
    parser.add_argument("--library", type=Path, nargs="+", help="with --habits, libraries there")
    parser.add_argument("--out", type=Path, help="JSON file for the figures")
    return parser.parse_args(arguments)


def files_of(args: argparse.Namespace, folder: Path) -> dict[str, Path]:
    """Files to time, by name."""
    if args.real:
        found = sorted(p for p in args.real.rglob("*") if p.suffix.lower() in (".jpg", ".png"))
        return {p.name: p for p in found[:: max(len(found) // 6, 1)]}
    sheets = list(SHEETS)[:1] if args.short else list(SHEETS)
    return {
        f"{sheet}, {kind.upper()}": draw_sheet(folder, sheet, 6000, kind)
        for sheet in sheets
        for kind in KINDS
    }


def habits(args: argparse.Namespace) -> int:
    """Time and memory of the habits of libraries on disk (see ``bench_habits.py``)."""
    from bench_habits import SIZES, bench

    sizes = () if args.library else SIZES[:1] if args.short else SIZES
    found = bench(sizes, args.library or ())
    if args.out:
        data = {"habits": [asdict(t) for t in found]}
        args.out.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")
    return 0


def main(arguments: list[str] | None = None) -> int:
    """Time, print, write."""
    args = options(arguments)
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    if args.habits:
        return habits(args)
    rounds = 1 if args.short else args.rounds
    with tempfile.TemporaryDirectory() as name:
        files = files_of(args, Path(name))
        head = f"{'page':<26}{'Mpx':>6}{'MB':>7}{'decode s':>10}{'page s':>8}{'ratio':>7}"
        print(f"{head}{'peak MB':>9}{'loaded':>8}")
        timings = [time_file(path, label, rounds) for label, path in files.items()]
        for t in timings:
            print(
                f"{t.name:<26}{t.megapixels:>6.1f}{t.file_mb:>7.2f}{t.decode_s:>10.3f}"
                f"{t.page_s:>8.3f}{t.ratio:>7.2f}{t.peak_mb:>9.0f}{t.base_mb:>8.0f}"
            )
        data: dict[str, object] = {"timings": [asdict(t) for t in timings]}
        if not args.short:
            path = next(iter(files.values()))
            one, two = (pages_per_second([path] * args.pages, n) for n in (1, 2))
            print(f"one worker {one:.2f} pages/s, two {two:.2f}: {two / one:.2f} times one")
            data["pages_per_second"] = {"1": one, "2": two}
        if args.profile:
            for label, path in files.items():
                print(f"\n{label}\n{profile(path)}")
        if args.out:
            args.out.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
