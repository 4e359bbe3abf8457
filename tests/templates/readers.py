"""Opening templates with readers that are not ours, as RGB arrays."""

from __future__ import annotations

import io
import math
import shutil
import subprocess
import zipfile
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest
from PIL import Image


def picture(data: bytes | Path) -> Image.Image:
    """An image by Pillow, fully loaded."""
    Image.MAX_IMAGE_PIXELS = None
    image = Image.open(io.BytesIO(data.read_bytes() if isinstance(data, Path) else data))
    image.load()
    return image


def rgb(data: bytes | Path) -> np.ndarray:
    """An image by Pillow as RGB."""
    return np.asarray(picture(data).convert("RGB"))


def svg_rgb(path: Path, size: tuple[int, int]) -> np.ndarray:
    """An SVG by rsvg-convert, or by CairoSVG where that is not installed."""
    program = shutil.which("rsvg-convert")
    if program is None:
        import cairosvg

        data = cairosvg.svg2png(url=str(path), output_width=size[0], output_height=size[1],
                                background_color="white")  # fmt: skip
        return rgb(data)
    done = subprocess.run(
        [program, "-w", str(size[0]), "-h", str(size[1]), "-b", "white", str(path)],
        capture_output=True,
        check=True,
    )
    return rgb(done.stdout)


def pdf_rgb(path: Path | bytes, ppi: float) -> np.ndarray:
    """First page of a PDF by pdfium."""
    document = pypdfium2.PdfDocument(path)
    try:
        page = document[0]
        bitmap = page.render(scale=math.nextafter(ppi / 72, 0))
        return np.asarray(bitmap.to_pil().convert("RGB"))
    finally:
        document.close()


def poppler_rgb(path: Path, ppi: int, folder: Path) -> np.ndarray:
    """First page of a PDF by pdftoppm."""
    program = shutil.which("pdftoppm")
    if program is None:
        pytest.skip("pdftoppm is not installed: no second PDF reader to compare with")
    out = folder / "poppler"
    subprocess.run([program, "-r", str(ppi), "-png", str(path), str(out)], check=True)
    (found,) = folder.glob("poppler*.png")
    result = rgb(found)
    found.unlink()
    return result


def pdf_with_layers(path: Path, shown: set[str]) -> bytes:
    """The PDF with only the layers of those names switched on."""
    with pikepdf.open(path) as pdf:
        listed = pdf.Root.OCProperties
        listed.D.ON = pikepdf.Array([g for g in listed.OCGs if str(g.Name) in shown])
        listed.D.OFF = pikepdf.Array([g for g in listed.OCGs if str(g.Name) not in shown])
        buffer = io.BytesIO()
        pdf.save(buffer)
    return buffer.getvalue()


def ora_files(path: Path) -> dict[str, bytes]:
    """All entries of an OpenRaster file."""
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def over(layers: list[np.ndarray]) -> np.ndarray:
    """Own compositing: RGBA layers, bottom first, by source-over on white, in floats."""
    height, width = layers[0].shape[:2]
    out = np.full((height, width, 3), 255.0)
    for layer in layers:
        alpha = layer[..., 3:] / 255.0
        out = layer[..., :3] * alpha + out * (1 - alpha)
    return out


def differing(a: np.ndarray, b: np.ndarray, by: int = 64) -> float:
    """Share of pixels in which two pictures differ by more than `by` levels."""
    assert a.shape == b.shape, (a.shape, b.shape)
    return float((np.abs(a.astype(int) - b.astype(int)).max(axis=-1) > by).mean())


def beyond_a_pixel(seen: np.ndarray, expected: np.ndarray, by: int = 32) -> int:
    """How many pixels are darker or lighter than anything within a pixel of their place.

    Readers differ in how they round edges to pixels; none may be off by more than one.
    """
    import cv2

    kernel = np.ones((3, 3), np.uint8)
    low = cv2.erode(expected, kernel).astype(int) - by
    high = cv2.dilate(expected, kernel).astype(int) + by
    return int(((seen < low) | (seen > high)).any(axis=-1).sum())
