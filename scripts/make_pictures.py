"""Make the README's pictures again, from the invented book alone.

``python scripts/make_pictures.py`` needs the test environment and a Chromium (for pages that
are looked at in a browser). It runs the commands of the README in a temporary folder and
writes small pictures into ``datasets/``.
"""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

ROOT = Path(__file__).resolve().parent.parent
TARGET = ROOT / "datasets"
BOOK = "quill"
WIDTH = 900


def run(folder: Path, *arguments: str) -> str:
    """Run a command of panelscan in a folder and return what it printed."""
    command = [sys.executable, "-m", "panelscan", *arguments]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(folder / ".cache")}
    done = subprocess.run(
        command, cwd=folder, capture_output=True, text=True, check=False, env=environment
    )
    if done.returncode not in (0, 10):
        raise SystemExit(f"{' '.join(arguments)}: exit code {done.returncode}\n{done.stderr}")
    return done.stdout + done.stderr


def save(image: Image.Image, name: str, width: int = WIDTH) -> None:
    """Save a picture small, with few colours where that does not show."""
    image = image.convert("RGB")
    if image.width > width:
        image = image.resize((width, round(image.height * width / image.width)), Image.LANCZOS)
    image.quantize(128, dither=Image.Dither.NONE).save(TARGET / name, optimize=True)
    print(f"{name}: {(TARGET / name).stat().st_size // 1024} kB")


def in_a_row(images: Sequence[Image.Image], height: int = 420, gap: int = 14) -> Image.Image:
    """Pictures side by side on paper."""
    scaled = [
        i.convert("RGB").resize((round(i.width * height / i.height), height), Image.LANCZOS)
        for i in images
    ]
    whole = Image.new(
        "RGB", (sum(i.width for i in scaled) + gap * (len(scaled) + 1), height + 2 * gap), "#e9e6df"
    )
    x = gap
    for image in scaled:
        whole.paste(image, (x, gap))
        x += image.width + gap
    return whole


def typed(command: str, text: str, most_lines: int = 24) -> Image.Image:
    """What a terminal would show: the command and its answer."""
    lines = [f"$ {command}", *_set_out(text.rstrip().splitlines()[:most_lines])]
    font = ImageFont.load_default(15)
    image = Image.new("RGB", (WIDTH, 22 * len(lines) + 24), "#fbfaf6")
    draw = ImageDraw.Draw(image)
    for number, line in enumerate(lines):
        for place, words in _columns(line):
            draw.text((14 + 9 * place, 12 + 22 * number), words, "#22303c", font)
    return image


def _set_out(lines: list[str]) -> list[str]:
    """Lines with their cells below one another; each table is as wide as it needs."""
    rows = [line.split("\t") for line in lines]
    widths: dict[tuple[int, int], int] = {}
    for row in rows:
        for k, cell in enumerate(row):
            widths[len(row), k] = max(widths.get((len(row), k), 0), len(cell) + 3)
    return ["".join(cell.ljust(widths[len(row), k]) for k, cell in enumerate(row)) for row in rows]


def _columns(line: str) -> list[tuple[int, str]]:
    """Parts of a line that are set apart by two spaces or more, with their places."""
    parts, start = [], 0
    for piece in line.split("  "):
        if piece.strip():
            parts.append((start + len(piece) - len(piece.lstrip()), piece.strip()))
        start += len(piece) + 2
    return parts


def from_svg(path: Path, width: int = WIDTH) -> Image.Image:
    """An SVG drawn by CairoSVG."""
    import cairosvg

    png = cairosvg.svg2png(url=str(path), output_width=width, background_color="white")
    return Image.open(io.BytesIO(png))


def browser_pictures(jobs: Sequence[tuple[str, str, tuple[int, int]]]) -> None:
    """Screenshots: (address, name, size of the window)."""
    from playwright.sync_api import sync_playwright

    program = next(p for p in map(shutil.which, ("chromium", "google-chrome", "chrome")) if p)
    with sync_playwright() as playwright:
        flags = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
        browser = playwright.chromium.launch(executable_path=program, args=flags)
        for address, name, (width, height) in jobs:
            page = browser.new_page(viewport={"width": width, "height": height})
            page.goto(address)
            page.wait_for_timeout(300)
            save(Image.open(io.BytesIO(page.screenshot())), name, width)
            page.close()
        browser.close()


def review_pictures(folder: Path) -> None:
    """The review page: the shelf and a page, on a screen and on a phone."""
    from playwright.sync_api import sync_playwright

    command = [sys.executable, "-m", "panelscan", "review", "--library", "shelf", "--no-browser"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(folder / ".cache")}
    server = subprocess.Popen(
        command,
        cwd=folder,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env=environment,
    )
    assert server.stdout is not None
    address = server.stdout.readline().strip()
    program = next(p for p in map(shutil.which, ("chromium", "google-chrome", "chrome")) if p)
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=program, args=["--no-sandbox"])
            context = browser.new_context()
            for name, size in (("", (1440, 900)), ("-phone", (390, 844))):
                page = context.new_page()
                page.set_viewport_size({"width": size[0], "height": size[1]})
                page.goto(address)
                page.wait_for_selector(".card img")
                page.wait_for_timeout(4000)
                save(Image.open(io.BytesIO(page.screenshot())), f"review-shelf{name}.png", size[0])
                page.click(".card >> nth=2")
                page.wait_for_selector(".desk .panel")
                page.mouse.move(2, 2)  # so that nothing is shown for the mouse lying on it
                page.wait_for_timeout(1500)
                page.keyboard.press("Tab")
                page.wait_for_timeout(2500)
                save(Image.open(io.BytesIO(page.screenshot())), f"review-page{name}.png", size[0])
                page.close()
            browser.close()
    finally:
        server.terminate()
        server.wait()


def main() -> None:
    """Run every command and keep its picture."""
    TARGET.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        run(folder, "demo", "demo")
        pages = sorted((folder / "demo" / "pages").glob("page_*"))
        save(in_a_row([Image.open(p) for p in pages[1:7]]), "demo.png", 1200)
        run(folder, "scan", "demo/pages", "--library", "shelf", "--book", BOOK)
        page_pictures(folder, pages)
        text_pictures(folder)
        made_pictures(folder)
        review_pictures(folder)


def page_pictures(folder: Path, pages: list[Path]) -> None:
    """Pages with what was found on them."""
    found = []
    for page in pages[2:6]:
        run(folder, "show", str(page), "-o", "found.png", "--overwrite")
        found.append(Image.open(folder / "found.png").copy())
    save(in_a_row(found, 460), "scan.png", 1200)
    run(folder, "show", "demo/pages/page_02.png", "-o", "found.png", "--overwrite")
    run(folder, "show", "demo/pages/page_02.png", "--step", "segments", "-o", "step.png")
    save(
        in_a_row([Image.open(folder / "found.png"), Image.open(folder / "step.png")], 560),
        "show.png",
    )
    run(folder, "check", "demo/pages/page_06.png", "-o", "look.svg")
    save(from_svg(folder / "look.svg", 640), "check.png", 640)
    run(folder, "compare", "demo/pages/page_05.png", "demo/pages/page_06.png", "-o", "moved.svg")
    save(from_svg(folder / "moved.svg", 520), "compare.png", 520)


def text_pictures(folder: Path) -> None:
    """Commands whose result is text."""
    run(folder, "tag", f"{BOOK}/2-5", "scene=the search", "stage=inks", "--library", "shelf")
    run(folder, "tag", f"{BOOK}/6", "scene=the wreck", "rating=5", "--library", "shelf")
    answer = run(folder, "tag", "--library", "shelf")
    save(typed("panelscan tag --library shelf", answer), "tag.png")
    answer = run(folder, "info", "--library", "shelf")
    save(typed("panelscan info --library shelf", answer), "info.png")


def made_pictures(folder: Path) -> None:
    """Files that commands make."""
    run(folder, "habits", "--library", "shelf", "--out", "habits")
    run(folder, "find", "--library", "shelf", "--grid", "one then two then two", "-o", "hits.html")
    shutil.copy(folder / "demo" / "scene.csv", folder / "scene.csv")
    run(folder, "plan", "scene.csv", "--library", "shelf", "-o", "plan.html")
    browser_pictures(
        [
            ((folder / "habits" / "habits.html").as_uri(), "habits.png", (1100, 1400)),
            ((folder / "hits.html").as_uri(), "find.png", (1100, 900)),
            ((folder / "plan.html").as_uri(), "plan.png", (1100, 900)),
        ]
    )
    run(folder, "template", f"{BOOK}/2", "--library", "shelf", "-o", "next.svg")
    save(from_svg(folder / "next.svg", 520), "template.png", 520)
    run(folder, "export", "svg", "--library", "shelf", "-o", "drawings")
    drawings = sorted((folder / "drawings").rglob("*.svg"))[1:5]
    save(in_a_row([from_svg(p, 400) for p in drawings], 380), "export.png")


if __name__ == "__main__":
    main()
