"""Feed thousands of damaged and hostile files to the intake: no crash, no hang, no surprise.

``python scripts/fuzz_intake.py`` makes 10,000 mutated files out of one small sound file of each
kind (images, PDFs, archives; `seeds`), has each listed and read in worker processes with a
time limit, and checks every answer:

- a page, or an error of ours that names the file and says what to do; no other exception;
- no process that dies, none that runs over its time, none that takes over 1.5 GB;
- nothing written: an audit hook watches every opening for writing, every rename, removal,
  new folder, program start and connection (Python's audit events, PEP 578).

``--short`` makes 300 files. Each input is named by its seed number, so that ``--only N`` makes
and reads it alone, in this process. Exit code 1 if anything was wrong.
"""

from __future__ import annotations

import argparse
import io
import os
import random
import re
import struct
import sys
import tempfile
import time
import traceback
import unicodedata
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable, Iterable
from concurrent.futures import FIRST_COMPLETED, Future, wait
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from scripts.measured import peak_mb

FULL, SHORT = 10_000, 300
TIME_LIMIT_S = 20.0
MOST_MEMORY_MB = 1_500
PAGES_READ = 3
_WRITING = (
    "os.remove", "os.rename", "os.mkdir", "os.rmdir", "os.link", "os.symlink", "os.truncate",
    "shutil.", "subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "socket.connect",
    "socket.bind",
)  # fmt: skip


@dataclass(frozen=True)
class Outcome:
    """What became of one input.

    Parameters
    ----------
    number : int
        The input's seed number.
    kind : str
        Name of the sound file it was made from.
    verdict : str
        ``read``, ``refused`` or ``fault``.
    detail : str
        Reason, or what is wrong.
    """

    number: int
    kind: str
    verdict: str
    detail: str = ""


# Sound files ----------------------------------------------------------------------------


@lru_cache(maxsize=1)
def seeds() -> dict[str, bytes]:
    """One small sound file of each kind, by a name with its ending."""
    import numpy as np

    rng = np.random.default_rng(7)
    gray = rng.integers(0, 256, (48, 36), np.uint8)
    rgb = rng.integers(0, 256, (48, 36, 3), np.uint8)
    made = {**_images(gray, rgb), **_tiffs(gray), **_pdfs(gray)}
    inside = {"p1.png": made["gray.png"], "ch1/p2.jpg": made["gray.jpg"], "__MACOSX/x": b"x"}
    made["pages.cbz"] = _zip(inside, zipfile.ZIP_DEFLATED)
    made["stored.zip"] = _zip(inside, zipfile.ZIP_STORED)
    made["bomb.png"] = _png_bomb()
    return made


def _images(gray: object, rgb: object) -> dict[str, bytes]:
    from PIL import Image

    g, c = Image.fromarray(gray), Image.fromarray(rgb)  # type: ignore[arg-type]
    exif = Image.Exif()
    exif[0x0112], exif[0x011A], exif[0x011B] = 6, 300.0, 300.0
    return {
        "gray.png": _saved(g, "PNG", dpi=(300, 300)),
        "palette.png": _saved(c.convert("P"), "PNG", transparency=3),
        "alpha.png": _saved(c.convert("RGBA"), "PNG"),
        "bits.png": _saved(g.convert("1"), "PNG"),
        "deep.png": _saved(Image.fromarray(gray.astype("uint16") * 257), "PNG"),  # type: ignore
        "exif.png": _saved(g, "PNG", exif=exif),
        "gray.jpg": _saved(g, "JPEG", dpi=(300, 300)),
        "turned.jpg": _saved(c, "JPEG", exif=exif),
        "progressive.jpg": _saved(c, "JPEG", progressive=True),
        "cmyk.jpg": _saved(c.convert("CMYK"), "JPEG"),
        "page.webp": _saved(c, "WEBP", exif=exif),
        "moving.webp": _saved(c, "WEBP", save_all=True, append_images=[c.rotate(90)]),
        "page.bmp": _saved(c, "BMP"),
        "moving.gif": _saved(g, "GIF", save_all=True, append_images=[g.rotate(180)]),
        "page.jp2": _saved(c, "JPEG2000"),
    }


def _tiffs(gray: object) -> dict[str, bytes]:
    import tifffile
    from PIL import Image

    image = Image.fromarray(gray)  # type: ignore[arg-type]
    several = io.BytesIO()
    with tifffile.TiffWriter(several) as writer:
        for _ in range(3):
            writer.write(gray, photometric="minisblack", compression="zlib")
    return {
        "raw.tif": _saved(image, "TIFF", dpi=(300, 300)),
        "lzw.tif": _saved(image, "TIFF", compression="tiff_lzw"),
        "g4.tif": _saved(image.convert("1"), "TIFF", compression="group4"),
        "several.tif": several.getvalue(),
    }


def _pdfs(gray: object) -> dict[str, bytes]:
    import pikepdf
    from PIL import Image

    image = Image.fromarray(gray)  # type: ignore[arg-type]
    drawn = pikepdf.new()
    for _ in range(2):
        drawn.add_blank_page(page_size=(90, 120))
        drawn.pages[-1].Contents = pikepdf.Stream(drawn, b"0 g 10 10 30 40 re f q 1 0 0 1 2 3 cm Q")
    out = io.BytesIO()
    drawn.save(out, deterministic_id=True)
    return {
        "scan.pdf": _saved(image, "PDF", resolution=72.0),
        "bits.pdf": _saved(image.convert("1"), "PDF", resolution=72.0),
        "drawn.pdf": out.getvalue(),
    }


def _saved(image: object, form: str, **settings: object) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **settings)  # type: ignore[attr-defined]
    return out.getvalue()


def _zip(members: dict[str, bytes], method: int) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as made:
        for name, data in members.items():
            made.writestr(zipfile.ZipInfo(name), data, method)
    return out.getvalue()


def _png_bomb() -> bytes:
    head = struct.pack(">IIBBBBB", 64, 64, 8, 0, 0, 0, 0)
    ihdr = struct.pack(">I", 13) + b"IHDR" + head + struct.pack(">I", zlib.crc32(b"IHDR" + head))
    return b"\x89PNG\r\n\x1a\n" + ihdr + b"\xff\xff\xff\xffIDATx"


# Mutations ------------------------------------------------------------------------------

Mutation = Callable[[random.Random, bytearray], None]
_NUMBERS = (0, 1, 2, 0x7F, 0x80, 0xFF, 0x100, 0x7FFF, 0x8000, 0xFFFF, 0x7FFFFFFF, 0x80000000,
            0xFFFFFFFF)  # fmt: skip
_WORDS = (
    b"IHDR", b"IDAT", b"PLTE", b"tRNS", b"pHYs", b"eXIf", b"acTL", b"iCCP", b"IEND", b"\xff\xd8",
    b"\xff\xd9", b"\xff\xda\x00\x08", b"\xff\xc2", b"\xff\xdd\x00\x04", b"II*\0", b"RIFF",
    b"/Type /Page", b"/Rotate 90", b"/CropBox [0 0 1e9 1e9]", b"/MediaBox [0 0 -1 0]", b"endobj",
    b"stream\r\n", b"/Kids [1 0 R]", b"/Filter [/FlateDecode /DCTDecode /JBIG2Decode]", b"<<",
    b">>",
    b"startxref\n0", b"/UserUnit 1e30", b"PK\x01\x02", b"PK\x03\x04", b"PK\x05\x06",
    b"../../", b"\0",
)  # fmt: skip


def _flip(rng: random.Random, data: bytearray) -> None:
    for _ in range(rng.randint(1, 8)):
        data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)


def _number(rng: random.Random, data: bytearray) -> None:
    form = rng.choice(("<H", ">H", "<I", ">I"))
    size = struct.calcsize(form)
    if len(data) > size:
        at = rng.randrange(len(data) - size)
        most = (1 << 8 * size) - 1
        data[at : at + size] = struct.pack(form, rng.choice(_NUMBERS) & most)


def _insert(rng: random.Random, data: bytearray) -> None:
    at = rng.randrange(len(data) + 1)
    data[at:at] = rng.choice((rng.choice(_WORDS), rng.randbytes(rng.randint(1, 40))))


def _overwrite(rng: random.Random, data: bytearray) -> None:
    word = rng.choice(_WORDS)
    at = rng.randrange(len(data))
    data[at : at + len(word)] = word


def _remove(rng: random.Random, data: bytearray) -> None:
    at = rng.randrange(len(data))
    del data[at : at + rng.randint(1, max(1, len(data) // 4))]


def _double(rng: random.Random, data: bytearray) -> None:
    at = rng.randrange(len(data))
    part = data[at : at + rng.randint(1, max(2, len(data) // 3))]
    data[at:at] = part


def _cut(rng: random.Random, data: bytearray) -> None:
    del data[rng.randrange(1, len(data) + 1) :]


def _fill(rng: random.Random, data: bytearray) -> None:
    at = rng.randrange(len(data))
    count = rng.randint(1, max(1, len(data) // 3))
    data[at : at + count] = bytes([rng.choice((0, 0x20, 0xFF))]) * count


def _splice(rng: random.Random, data: bytearray) -> None:
    other = rng.choice(list(seeds().values()))
    data[rng.randrange(len(data)) :] = other[rng.randrange(len(other)) :]


def _mend_png(_: random.Random, data: bytearray) -> None:
    """Put the checksums of a PNG's chunks right, so that decoders look further."""
    at = 8
    while data[:4] == b"\x89PNG" and at + 12 <= len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        if at + 12 + length > len(data):
            return
        sum_at = at + 8 + length
        data[sum_at : sum_at + 4] = struct.pack(">I", zlib.crc32(data[at + 4 : sum_at]))
        at = sum_at + 4


MUTATIONS: tuple[Mutation, ...] = (
    _flip, _flip, _number, _number, _insert, _overwrite, _remove, _double, _cut, _fill, _splice,
)  # fmt: skip


def mutated(number: int) -> tuple[str, bytes]:
    """Name and bytes of input ``number``: always the same for the same number."""
    rng = random.Random(number)
    name = rng.choice(sorted(seeds()))
    data = bytearray(seeds()[name])
    for _ in range(rng.randint(1, 4)):
        if data:
            rng.choice(MUTATIONS)(rng, data)
    if rng.random() < 0.5:
        _mend_png(rng, data)
    if rng.random() < 0.1:  # a wrong ending
        name = Path(name).stem + rng.choice((".png", ".jpg", ".tif", ".pdf", ".cbz", ".gif"))
    return name, bytes(data)


# One input ------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def _watched() -> list[str]:
    """Start watching this process for writes; the list grows with each."""
    seen: list[str] = []

    def hook(event: str, arguments: tuple[object, ...]) -> None:
        if not _is_on:
            return
        if event == "open":
            _, mode, flags = (*arguments, None, None)[:3]
            writing = isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)
            if writing or (isinstance(mode, str) and set(mode) & set("wax+")):
                seen.append(f"open {arguments[0]!r} {mode}")
        elif event.startswith(_WRITING):
            seen.append(f"{event} {arguments!r}")

    sys.addaudithook(hook)
    return seen


_is_on = False


def try_one(number: int, folder: str) -> Outcome:
    """Make an input, list and read it, judge the answer; runs in a worker."""
    global _is_on
    from panelscan.errors import PanelscanError

    kind, data = mutated(number)
    path = Path(folder) / f"n{number}-{kind}"
    path.write_bytes(data)
    seen = _watched()
    seen.clear()
    _warm()
    _is_on = True
    try:
        verdict, detail = _read(path)
    except PanelscanError as error:
        verdict, detail = "fault", f"an error came out of listing: {error}"
    except Exception:
        verdict, detail = "fault", traceback.format_exc(limit=-4)
    finally:
        _is_on = False
    path.unlink()
    # Other workers' inputs lie beside; whatever has another name was unpacked by somebody.
    strays = [p.name for p in Path(folder).iterdir() if not re.match(r"n\d+-", p.name)]
    if seen or strays:
        return Outcome(number, kind, "fault", f"written: {seen[:3]} {strays[:3]}")
    if (peak := peak_mb()) > MOST_MEMORY_MB:
        return Outcome(number, kind, "fault", f"memory rose to {peak:.0f} MB")
    return Outcome(number, kind, verdict, detail)


@lru_cache(maxsize=1)
def _warm() -> None:
    """Load what is loaded on first use, before writes are watched for (bytecode caches)."""
    from panelscan.intake.loading import load_page
    from panelscan.intake.sources import probe_file

    with tempfile.TemporaryDirectory() as folder:
        for name, data in seeds().items():
            path = Path(folder) / name
            path.write_bytes(data)
            for page in probe_file(path.as_posix()).pages:
                try:
                    load_page(page)
                except Exception as error:
                    if "bomb" not in name:
                        raise AssertionError(f"a sound file was refused: {name}") from error


def _read(path: Path) -> tuple[str, str]:
    """Verdict and reason for one file."""
    from panelscan.errors import InputError
    from panelscan.intake.loading import load_page
    from panelscan.intake.sources import list_pages

    listing = list_pages([path])
    answers = [(f.label, f.reason, f.remedy) for f in listing.failures]
    read = 0
    for page in listing.pages[:PAGES_READ]:
        try:
            read += len(load_page(page))
        except InputError as error:
            answers.append((str(error), error.message, error.remedy))
    for label, reason, remedy in answers:
        if path.name not in label or not reason or not remedy:
            return "fault", f"an answer without name, reason or remedy: {(label, reason, remedy)}"
        if any(unicodedata.category(letter) in ("Cc", "Cf", "Cs") for letter in label):
            return "fault", f"an answer with control characters: {label!r}"
    if not read and not answers:
        return "fault", "no answer at all"
    return ("read", "") if read else ("refused", answers[0][1])


# Many inputs ----------------------------------------------------------------------------


def fuzz(numbers: Iterable[int], workers: int | None = None) -> list[Outcome]:
    """Try inputs in worker processes; a lost worker is a fault of its input.

    Parameters
    ----------
    numbers : iterable of int
        Seed numbers.
    workers : int or None
        Processes; None for one per core.

    Returns
    -------
    list of Outcome
        In order of the numbers.
    """
    from panelscan.pipeline.pool import PagePool

    outcomes: dict[int, Outcome] = {}
    waiting = iter(numbers)
    pending: dict[Future[Outcome], int] = {}
    with tempfile.TemporaryDirectory() as folder, PagePool(workers, TIME_LIMIT_S) as pool:
        while True:
            while len(pending) < 3 * pool.workers:
                number = next(waiting, None)
                if number is None:
                    break
                pending[pool.submit(try_one, number, folder)] = number
            if not pending:
                break
            for future in wait(pending, return_when=FIRST_COMPLETED).done:
                number = pending.pop(future)
                outcomes[number] = _outcome(number, future)
    return [outcomes[number] for number in sorted(outcomes)]


def _outcome(number: int, future: Future[Outcome]) -> Outcome:
    try:
        return future.result()
    except Exception as error:
        return Outcome(number, mutated(number)[0], "fault", f"the worker was lost: {error}")


def report(outcomes: list[Outcome], seconds: float) -> str:
    """A few lines on how many inputs were read, refused and why."""
    verdicts = Counter(outcome.verdict for outcome in outcomes)
    reasons = Counter(_gist(o.detail) for o in outcomes if o.verdict == "refused")
    lines = [
        f"{len(outcomes)} inputs in {seconds:.0f} s: {verdicts['read']} read, "
        f"{verdicts['refused']} refused, {verdicts['fault']} faults"
    ]
    lines += [f"  {count:6} {reason}" for reason, count in reasons.most_common(12)]
    lines += [f"FAULT {o.number} {o.kind}: {o.detail}" for o in outcomes if o.verdict == "fault"]
    return "\n".join(lines)


def _gist(reason: str) -> str:
    """A reason without the file's name, numbers and what stands in brackets."""
    text = reason.split("(")[0].split(": ", 1)[-1]
    return re.sub(r"\d+", "N", text).strip()[:70]


def main(arguments: list[str] | None = None) -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--short", action="store_true", help=f"{SHORT} inputs instead of {FULL}")
    parser.add_argument("--count", type=int, help="how many inputs")
    parser.add_argument("--start", type=int, default=0, help="first seed number")
    parser.add_argument("--workers", type=int, help="processes, one per core by default")
    parser.add_argument("--only", type=int, help="one input, in this process")
    given = parser.parse_args(arguments)
    started = time.monotonic()
    if given.only is not None:
        with tempfile.TemporaryDirectory() as folder:
            outcomes = [try_one(given.only, folder)]
    else:
        count = given.count or (SHORT if given.short else FULL)
        outcomes = fuzz(range(given.start, given.start + count), given.workers)
    print(report(outcomes, time.monotonic() - started))
    return 1 if any(outcome.verdict == "fault" for outcome in outcomes) else 0


if __name__ == "__main__":
    sys.exit(main())
