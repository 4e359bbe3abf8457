"""Tiny files of every kind and trap, made on the fly."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
from PIL import Image

SHAPE = (60, 40)


def picture(height: int = SHAPE[0], width: int = SHAPE[1], colour: bool = False) -> np.ndarray:
    """White, black in the top left quarter, so that turns and mirrors can be told."""
    pixels = np.full((height, width), 255, np.uint8)
    pixels[: height // 2, : width // 2] = 0
    if not colour:
        return pixels
    rgb = np.repeat(pixels[..., None], 3, axis=2)
    rgb[height // 2 :, width // 2 :] = (200, 30, 60)
    return rgb


def encoded(pixels: np.ndarray | Image.Image, form: str, **settings: Any) -> bytes:
    """File bytes of a picture."""
    image = pixels if isinstance(pixels, Image.Image) else Image.fromarray(pixels)
    out = io.BytesIO()
    image.save(out, form, **settings)
    return out.getvalue()


def write(path: Path, data: bytes) -> str:
    """Write a file, its folders too; the path as text."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return path.as_posix()


def png(**settings: Any) -> bytes:
    return encoded(picture(), "PNG", **settings)


def chunk(name: bytes, data: bytes, length: int | None = None) -> bytes:
    """A PNG chunk; ``length`` lies about its size (PNG specification, 5.3)."""
    told = len(data) if length is None else length
    return struct.pack(">I", told) + name + data + struct.pack(">I", zlib.crc32(name + data))


def png_header(width: int, height: int, depth: int = 8, colour: int = 0) -> bytes:
    ihdr = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", ihdr)


def png_bomb() -> bytes:
    """About 60 bytes that promise a chunk of 4 GB."""
    return png_header(64, 64) + chunk(b"IDAT", b"x", 0xFFFFFFFF)[:13]


def archive(members: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as made:
        for name, data in members.items():
            made.writestr(zipfile.ZipInfo(name), data, method)
    return out.getvalue()


def pdf_of_image(
    data: bytes,
    size_px: tuple[int, int],
    size_pt: tuple[float, float],
    content: bytes | None = None,
    colour: bool = False,
    **page_keys: Any,
) -> bytes:
    """A PDF with one JPEG page; ``content`` replaces the page's drawing."""
    pdf = pikepdf.new()
    pdf.add_blank_page(page_size=size_pt)
    page = pdf.pages[0]
    image = pikepdf.Stream(pdf, data)
    image.Type, image.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
    image.Width, image.Height = size_px
    image.ColorSpace = pikepdf.Name.DeviceRGB if colour else pikepdf.Name.DeviceGray
    image.BitsPerComponent, image.Filter = 8, pikepdf.Name.DCTDecode
    page.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(Im=image))
    drawing = f"q {size_pt[0]} 0 0 {size_pt[1]} 0 0 cm /Im Do Q".encode()
    page.Contents = pikepdf.Stream(pdf, content or drawing)
    for key, value in page_keys.items():
        page.obj[f"/{key}"] = value
    out = io.BytesIO()
    pdf.save(out, deterministic_id=True)
    return out.getvalue()


def pdf_of_drawing(content: bytes, size_pt: tuple[float, float], pages: int = 1) -> bytes:
    """A PDF whose pages are drawn by a content stream."""
    pdf = pikepdf.new()
    for _ in range(pages):
        pdf.add_blank_page(page_size=size_pt)
        pdf.pages[-1].Contents = pikepdf.Stream(pdf, content)
    out = io.BytesIO()
    pdf.save(out, deterministic_id=True)
    return out.getvalue()
