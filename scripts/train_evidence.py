"""Train the small net that tells panel borders and ground, on drawn pages only.

``python scripts/train_evidence.py --pages 4000 --minutes 6 --out panelscan/vision/evidence.onnx``

Needs PyTorch (not a dependency of panelscan; a GPU is best). Pages come from the page maker,
from tuning books and tuning hands alone, worn as a scanner or phone would; some panels are
filled with photographs that scikit-image ships, so that the net does not learn our drawing.
The net sees a page at 768 px on its long side and answers at half of that with three maps
(log-odds): border, ground, and the inside of panels away from their borders.

Method: an encoder-decoder with additive skips (after Chaurasia and Culurciello 2017, doi
10.1109/VCIP.2017.8305148; from memory), trained with cross-entropy and Dice.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import sys
import time
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from panelscan.demo.hands import TUNING_HANDS
from panelscan.demo.maker import draw_page
from panelscan.demo.recipes import CATEGORIES

HEIGHT, WIDTH = 768, 576
VALIDATION_SEED = 4000


def draw_example(task: tuple[str, int, str]) -> tuple[np.ndarray, np.ndarray] | None:
    """A page of shape (768, 576, 3) and its maps of shape (3, 384, 288), uint8."""
    category, seed, hand = task
    cv2.setNumThreads(1)
    rng = np.random.default_rng([seed, len(category)])
    try:
        page = draw_page(category, seed, hand=hand, height_px=int(rng.integers(900, 1500)))
    except Exception:  # a page that cannot be drawn is no example
        return None
    pixels = page.pixels if page.pixels.ndim == 3 else np.repeat(page.pixels[..., None], 3, axis=2)
    if rng.random() < 0.25:
        pixels = _with_photographs(pixels.copy(), page.truth.panels, rng)
    scale = min(HEIGHT / pixels.shape[0], WIDTH / pixels.shape[1])
    size = (int(pixels.shape[1] * scale), int(pixels.shape[0] * scale))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    below, beside = HEIGHT - small.shape[0], WIDTH - small.shape[1]
    small = cv2.copyMakeBorder(small, 0, below, 0, beside, cv2.BORDER_REPLICATE)
    return small, _maps(page.truth.panels, scale / 2, pixels.shape)


def _maps(panels, scale: float, shape: tuple[int, ...]) -> np.ndarray:
    border = np.zeros((HEIGHT // 2, WIDTH // 2), np.uint8)
    ground = np.ones_like(border)
    inner = np.zeros_like(border)
    width, height = shape[1] * scale, shape[0] * scale
    for panel in sorted(panels, key=lambda p: p.depth):
        ring = panel.outline.array() * scale
        whole = np.round(ring * 16).astype(np.int32)
        for image, value in ((border, 0), (ground, 0), (inner, 1)):
            cv2.fillPoly(image, [whole], value, cv2.LINE_8, 4)
        for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            at_edge = any(
                abs(a[i] - edge) < 3 and abs(b[i] - edge) < 3
                for i, edge in ((0, 0), (1, 0), (0, width), (1, height))
            )
            ends = [tuple(int(v) for v in np.round(p * 16)) for p in (a, b)]
            cv2.line(inner, *ends, 0, 4, cv2.LINE_8, 4)
            if not at_edge:
                cv2.line(border, *ends, 1, 2, cv2.LINE_8, 4)
    return np.stack([border, ground, inner])


_PHOTOS: list[np.ndarray] = []


def _photographs() -> list[np.ndarray]:
    """Pictures that scikit-image ships inside its package (free licences)."""
    if not _PHOTOS:
        import skimage

        folder = Path(skimage.__file__).parent / "data"
        folders = [folder, folder.parent.parent / "_skimage2" / "data"]
        for path in sorted(p for f in folders if f.exists() for p in f.iterdir()):
            if path.suffix in (".png", ".jpg", ".jpeg", ".tif", ".gif"):
                image = cv2.imread(str(path), cv2.IMREAD_COLOR)
                if image is not None and min(image.shape[:2]) > 120:
                    _PHOTOS.append(image[..., ::-1])
    return _PHOTOS


def _with_photographs(pixels: np.ndarray, panels, rng: np.random.Generator) -> np.ndarray:
    photos = _photographs()
    for panel in panels:
        if not photos or rng.random() < 0.4:
            continue
        x0, y0, x1, y1 = (int(v) for v in panel.outline.bounds)
        x0, y0 = max(x0, 0), max(y0, 0)
        x1, y1 = min(x1, pixels.shape[1]), min(y1, pixels.shape[0])
        if x1 - x0 < 30 or y1 - y0 < 30:
            continue
        photo = photos[rng.integers(len(photos))]
        if rng.random() < 0.5:
            photo = photo[:, ::-1]
        photo = cv2.resize(np.ascontiguousarray(photo), (x1 - x0, y1 - y0))
        mask = np.zeros((y1 - y0, x1 - x0), np.uint8)
        ring = np.round(panel.outline.array() - (x0, y0)).astype(np.int32)
        cv2.fillPoly(mask, [ring], 255)
        mask = cv2.erode(mask, np.ones((7, 7), np.uint8)) > 0
        window = pixels[y0:y1, x0:x1]
        part = rng.uniform(0.3, 1.0)
        mixed = (part * photo + (1 - part) * window).astype(np.uint8)
        window[mask] = mixed[mask]
    return pixels


def examples(count: int, first_seed: int, workers: int) -> tuple[np.ndarray, np.ndarray]:
    """Drawn pages with their maps."""
    hands = list(TUNING_HANDS)
    tasks = [
        (CATEGORIES[k % len(CATEGORIES)], first_seed + k // len(CATEGORIES), hands[k % len(hands)])
        for k in range(count)
    ]
    with multiprocessing.get_context("fork").Pool(workers) as pool:
        drawn = [d for d in pool.imap_unordered(draw_example, tasks, chunksize=4) if d is not None]
    return np.stack([d[0] for d in drawn]), np.stack([d[1] for d in drawn])


def make_net(widths: tuple[int, ...] = (16, 28, 48, 72, 112, 144)):
    """Encoder-decoder; input (B, 3, H, W) in 0..1, output (B, 3, H/2, W/2) log-odds."""
    import torch
    from torch import nn

    def conv(a: int, b: int, stride: int = 1) -> nn.Sequential:
        return nn.Sequential(
            nn.Conv2d(a, b, 3, stride, 1, bias=False), nn.BatchNorm2d(b), nn.ReLU(inplace=True)
        )

    class Net(nn.Module):
        def __init__(self) -> None:
            super().__init__()
            w = widths
            self.stem = nn.Sequential(conv(3, w[0], 2), conv(w[0], w[0]))
            self.down = nn.ModuleList(
                nn.Sequential(conv(w[i], w[i + 1], 2), conv(w[i + 1], w[i + 1]))
                for i in range(len(w) - 1)
            )
            self.narrow = nn.ModuleList(nn.Conv2d(w[i + 1], w[i], 1) for i in range(len(w) - 1))
            self.mix = nn.ModuleList(conv(w[i], w[i]) for i in range(len(w) - 1))
            self.up = nn.Upsample(scale_factor=2, mode="bilinear", align_corners=False)
            self.head = nn.Sequential(conv(w[0], w[0]), nn.Conv2d(w[0], 3, 1))

        def forward(self, x: torch.Tensor) -> torch.Tensor:
            skips = [self.stem(x)]
            for step in self.down:
                skips.append(step(skips[-1]))
            y = skips.pop()
            for i in reversed(range(len(self.narrow))):
                y = self.mix[i](self.up(self.narrow[i](y)) + skips.pop())
            return self.head(y)

    return Net()


def worn(x, generator):
    """Random wear on the GPU: tone, colour, blur, noise, inversion; geometry is done apart."""
    import torch
    import torch.nn.functional as F

    count = x.shape[0]

    def some(share: float):
        return torch.rand(count, 1, 1, 1, device=x.device) < share

    gray = x.mean(dim=1, keepdim=True).expand_as(x)
    x = torch.where(some(0.3), gray, x)
    x = torch.where(some(0.06), 1 - x, x)
    gain = 0.65 + 0.5 * torch.rand(count, 3, 1, 1, device=x.device)
    gain = torch.where(some(0.6), gain.mean(dim=1, keepdim=True).expand_as(gain), gain)
    x = (x * gain).clamp(0, 1) ** torch.exp(0.5 * torch.randn(count, 1, 1, 1, device=x.device))
    small = F.interpolate(x, scale_factor=0.6, mode="bilinear", antialias=True)
    blurred = F.interpolate(small, size=x.shape[2:], mode="bilinear")
    x = torch.where(some(0.25), blurred, x)
    coarse = torch.randn(count, 3, 6, 5, device=x.device)
    shade = F.interpolate(coarse, size=x.shape[2:], mode="bicubic")
    x = x + torch.where(some(0.3), 0.06 * shade, torch.zeros_like(x))
    x = x + 0.05 * torch.rand(count, 1, 1, 1, device=x.device) * torch.randn_like(x)
    return x.clamp(0, 1)


def moved(x, y):
    """Mirror, turn, scale and shift pages and their maps alike."""
    import torch
    import torch.nn.functional as F

    count, device = x.shape[0], x.device
    turn = 0.03 * torch.randn(count, device=device)
    turn = torch.where(torch.rand(count, device=device) < 0.6, torch.zeros_like(turn), turn)
    size = torch.exp(0.12 * torch.randn(count, device=device))
    flip = torch.where(torch.rand(count, device=device) < 0.5, -1.0, 1.0)
    ratio = x.shape[2] / x.shape[3]
    theta = torch.zeros(count, 2, 3, device=device)
    theta[:, 0, 0] = flip * size * torch.cos(turn)
    theta[:, 0, 1] = -size * torch.sin(turn) * ratio
    theta[:, 1, 0] = flip * size * torch.sin(turn) / ratio
    theta[:, 1, 1] = size * torch.cos(turn)
    theta[:, :, 2] = 0.06 * torch.randn(count, 2, device=device)
    grid = F.affine_grid(theta, list(x.shape), align_corners=False)
    x = F.grid_sample(x, grid, padding_mode="border", align_corners=False)
    grid = F.affine_grid(theta, list(y.shape), align_corners=False)
    y = F.grid_sample(y, grid, padding_mode="border", align_corners=False)
    return x, y


def train(pages: np.ndarray, maps: np.ndarray, seconds: float, batch: int = 32):
    """Train for a stated time; returns the net with averaged weights."""
    import torch
    import torch.nn.functional as F

    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(0)
    net = make_net().to(device).to(memory_format=torch.channels_last)
    average = torch.optim.swa_utils.AveragedModel(
        net, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.998), use_buffers=True
    )
    x_all = torch.from_numpy(pages).to(device)
    y_all = torch.from_numpy(maps).to(device)
    optimizer = torch.optim.AdamW(net.parameters(), lr=3e-3, weight_decay=1e-2)
    weight = torch.tensor([4.0, 1.0, 1.0], device=device).view(1, 3, 1, 1)
    start, step = time.time(), 0
    while (spent := (time.time() - start) / seconds) < 1:
        for group in optimizer.param_groups:
            warm = min(1.0, step / 200)
            group["lr"] = 3e-3 * warm * 0.5 * (1 + np.cos(np.pi * min(spent, 1.0))) + 1e-6
        pick = torch.randint(len(x_all), (batch,), device=device)
        x = x_all[pick].permute(0, 3, 1, 2).float() / 255
        x, y = moved(x, y_all[pick].float())
        x = worn(x, None).contiguous(memory_format=torch.channels_last)
        with torch.autocast(device, dtype=torch.bfloat16):
            out = net(x)
        out = out.float()
        cost = F.binary_cross_entropy_with_logits(
            out, y, pos_weight=weight.expand_as(out)[:1], reduction="mean"
        )
        p = out.sigmoid()
        dice = 1 - (2 * (p * y).sum((2, 3)) + 1) / ((p + y).sum((2, 3)) + 1)
        loss = cost + 0.3 * dice.mean()
        optimizer.zero_grad(set_to_none=True)
        loss.backward()
        optimizer.step()
        average.update_parameters(net)
        if step % 500 == 0:
            print(f"{step} {100 * spent:.0f} % loss {loss.item():.4f}", flush=True)
        step += 1
    return average.module.eval()


def report(net, pages: np.ndarray, maps: np.ndarray) -> None:
    """F1 of each map on pages kept apart."""
    import torch

    device = next(net.parameters()).device
    hits = np.zeros((3, 3))
    with torch.no_grad():
        for k in range(0, len(pages), 32):
            x = torch.from_numpy(pages[k : k + 32]).to(device).permute(0, 3, 1, 2).float() / 255
            found = (net(x) > 0).cpu().numpy()
            true = maps[k : k + 32] > 0
            hits[0] += (found & true).sum((0, 2, 3))
            hits[1] += found.sum((0, 2, 3))
            hits[2] += true.sum((0, 2, 3))
    f1 = 2 * hits[0] / (hits[1] + hits[2])
    print("F1 of border, ground, inside on pages kept apart:", np.round(f1, 4))


def main() -> None:
    """Draw, train, export."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pages", type=int, default=4000)
    parser.add_argument("--minutes", type=float, default=6.0)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 2)
    parser.add_argument("--out", type=Path, default=Path("panelscan/vision/evidence.onnx"))
    given = parser.parse_args()
    start = time.time()
    pages, maps = examples(given.pages, 0, given.workers)
    kept, kept_maps = examples(360, VALIDATION_SEED, given.workers)
    print(f"{len(pages)} + {len(kept)} pages drawn in {time.time() - start:.0f} s", flush=True)
    net = train(pages, maps, 60 * given.minutes)
    report(net, kept, kept_maps)
    import torch

    net = net.cpu().float().to(memory_format=torch.contiguous_format)
    given.out.parent.mkdir(parents=True, exist_ok=True)
    torch.onnx.export(
        net, torch.zeros(1, 3, HEIGHT, WIDTH), str(given.out), opset_version=17,
        input_names=["page"], output_names=["maps"], dynamo=False,
    )
    print(f"{given.out}: {given.out.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
