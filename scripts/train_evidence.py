"""Train the small net that tells panel borders, ground and panels, on drawn pages only.

``python scripts/train_evidence.py --minutes 13.5 8.5 --rates 2e-3 1.2e-3 --warm \
panelscan/vision/evidence.onnx --out evidence.onnx``

Each number of minutes is a cycle in which the learning rate falls to nothing (after Loshchilov
and Hutter 2017, arXiv 1608.03983; from memory); the net is written after each, so that a run
that is cut off has not been for nothing, as evidence-1.onnx and so on. The net that ships is
the second; means of several (``average_evidence.py``) are worth scoring beside it. ``--warm``
begins with the weights of an older net.

Needs PyTorch (not a dependency of panelscan; a GPU is best). Pages come from the page maker,
from tuning books and tuning hands alone, worn as a scanner or phone would; some panels are
filled with photographs that scikit-image ships, so that the net does not learn our drawing.
Pages are drawn while the net trains on those drawn so far. The net sees a page at 768 px on
its long side; ``evidence_net.py`` tells what it answers, ``evidence_pages.py`` what it learns.
"""

from __future__ import annotations

import argparse
import copy
import multiprocessing
import os
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from queue import Queue

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from evidence_pages import HEIGHT, MOST_PANELS, POINTS, WIDTH, Example, draw_example, tasks_of

PAGES = 40000
FIRST_SEED = 30000
"""Above every seed that scores, tunes or is kept apart."""

VALIDATION_SEED, VALIDATION_PAGES = 4000, 336
LEAST_PAGES = 800
AVERAGED_EVERY = 5
WARM_PAGES = 64


class Shelf:
    """Pages drawn so far, on the GPU; a thread takes them from the workers."""

    def __init__(self, room: int, device: str) -> None:
        import torch

        self.pixels = torch.empty((room, HEIGHT, WIDTH, 3), dtype=torch.uint8, device=device)
        self.maps = torch.empty(
            (room, 3, HEIGHT // 2, WIDTH // 2), dtype=torch.uint8, device=device
        )
        self.hulls = torch.empty((room, MOST_PANELS, POINTS, 2), device=device)
        self.filled = 0

    def add(self, examples: list[Example]) -> None:
        """Lay pages by."""
        import torch

        examples = examples[: len(self.pixels) - self.filled]
        if not examples:
            return
        k = slice(self.filled, self.filled + len(examples))
        for name in ("pixels", "maps", "hulls"):
            stack = np.stack([getattr(e, name) for e in examples])
            getattr(self, name)[k] = torch.from_numpy(stack).to(self.pixels.device)
        self.filled = k.stop

    def batch(self, pick):
        """Pages (B, 3, H, W) in 0..1, maps and hulls of some places."""
        x = self.pixels[pick].permute(0, 3, 1, 2).float() / 255
        return x, self.maps[pick].float(), self.hulls[pick]


def collect(drawn: Iterator[Example | None], queue: Queue[Example]) -> None:
    """Hand pages on as they are drawn."""
    for example in drawn:
        if example is not None:
            queue.put(example)


def take(shelf: Shelf, queue: Queue[Example], least: int = 32, most: int = 128) -> None:
    """Lay pages that wait onto the shelf, many at once: each time holds the GPU up."""
    if queue.qsize() >= least:
        shelf.add([queue.get() for _ in range(min(most, queue.qsize()))])


class Pupil:
    """A net in training, with its averaged weights."""

    def __init__(self, shelf: Shelf, older: Path | None) -> None:
        import torch
        from evidence_net import Net, worn
        from evidence_warm import warmed

        torch.manual_seed(0)
        self.device = str(shelf.pixels.device)
        self.net = Net().to(self.device)
        if older is not None:
            pick = torch.randint(shelf.filled, (WARM_PAGES,), device=self.device)
            warmed(self.net, older, worn(shelf.batch(pick)[0]))
        self.net = self.net.to(memory_format=torch.channels_last)
        self.average = torch.optim.swa_utils.AveragedModel(
            self.net,
            multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(0.99),
            use_buffers=True,
        )
        self.optimizer = torch.optim.AdamW(self.net.parameters(), weight_decay=1e-2, fused=True)

    def learn(self, x, maps, hulls, rate: float) -> tuple[float, float]:
        """One step on a batch; costs of the maps and of the votes, on the device."""
        import torch
        from evidence_net import cost, moved, worn

        for group in self.optimizer.param_groups:
            group["lr"] = rate
        x, maps, hulls = moved(x, maps, hulls)
        x = worn(x).contiguous(memory_format=torch.channels_last)
        with torch.autocast(self.device.split(":")[0], dtype=torch.bfloat16):
            out = self.net(x)
        seen, voted = cost(out, maps, hulls)
        self.optimizer.zero_grad(set_to_none=True)
        (seen + 0.15 * voted).backward()
        torch.nn.utils.clip_grad_norm_(self.net.parameters(), 5.0)
        self.optimizer.step()
        return seen, voted


def train(
    pupil: Pupil, shelf: Shelf, queue: Queue[Example], seconds: float, rate: float, batch: int = 32
) -> None:
    """One cycle of a stated time; pages that were drawn meanwhile are laid by."""
    import torch

    start, step = time.time(), 0
    while (spent := (time.time() - start) / seconds) < 1:
        take(shelf, queue)
        warm = min(1.0, (step + 1) / 300)
        now = rate * warm * 0.5 * (1 + np.cos(np.pi * spent)) + 1e-6
        pick = torch.randint(shelf.filled, (batch,), device=pupil.device)
        seen, voted = pupil.learn(*shelf.batch(pick), now)
        if step % AVERAGED_EVERY == 0:
            pupil.average.update_parameters(pupil.net)
        if step % 1000 == 0:
            told = f"{step} {100 * spent:.0f} % maps {seen.item():.4f} votes {voted.item():.3f}"
            print(told, f"{shelf.filled} pages", flush=True)
        step += 1


def report(net, shelf: Shelf) -> None:
    """F1 of each map and how near the votes are, on pages kept apart."""
    import torch
    import torch.nn.functional as F
    from evidence_net import vote_targets

    hits = np.zeros((3, 3))
    near: list[np.ndarray] = []
    with torch.no_grad():
        for k in range(0, shelf.filled, 32):
            pick = torch.arange(k, min(k + 32, shelf.filled), device=shelf.pixels.device)
            x, maps, hulls = shelf.batch(pick)
            out, votes = net(x)
            found = (F.pixel_shuffle(out, 2) > 0).cpu().numpy()
            true = torch.cat([maps[:, :1], maps[:, 2:] < 0.5, maps[:, 1:2]], 1).cpu().numpy() > 0
            hits[0] += (found & true).sum((0, 2, 3))
            hits[1] += found.sum((0, 2, 3))
            hits[2] += true.sum((0, 2, 3))
            reaches, _, weight = vote_targets(maps[:, 2:], hulls)
            off = (votes[:, :4] - reaches[:, :4]).abs().amax(dim=1)[weight > 0]
            near.append((100 * off).cpu().numpy())
    print(
        "F1 of border, ground, inside on pages kept apart:",
        np.round(2 * hits[0] / (hits[1] + hits[2]), 4),
    )
    off = np.concatenate(near)
    shares = {px: round(float((off < px).mean()), 4) for px in (8, 16, 32)}
    print("votes whose worst box side is off by less than so many px:", shares, flush=True)


def export(net, path: Path) -> None:
    """Write the net as ONNX."""
    import torch

    net = copy.deepcopy(net).cpu().float().to(memory_format=torch.contiguous_format)
    path.parent.mkdir(parents=True, exist_ok=True)
    torch.onnx.export(
        net,
        torch.zeros(1, 3, HEIGHT, WIDTH),
        str(path),
        opset_version=17,
        input_names=["page"],
        output_names=["maps", "votes"],
        dynamo=False,
    )
    print(f"{path}: {path.stat().st_size / 1e6:.2f} MB")


def main() -> None:
    """Draw, train, export."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pages", type=int, default=PAGES, help="draw at most so many")
    parser.add_argument("--first-seed", type=int, default=FIRST_SEED, help="of the pages")
    parser.add_argument("--minutes", type=float, nargs="+", default=[8.0], help="of each cycle")
    parser.add_argument("--rates", type=float, nargs="+", default=[3e-3], help="of each cycle")
    parser.add_argument("--warm", type=Path, help="an older net to begin with")
    parser.add_argument("--batch", type=int, default=32)
    parser.add_argument("--workers", type=int, default=max(1, (os.cpu_count() or 2) - 2))
    parser.add_argument("--out", type=Path, default=Path("panelscan/vision/evidence.onnx"))
    given = parser.parse_args()
    start = time.time()
    tasks = tasks_of(VALIDATION_PAGES, VALIDATION_SEED) + tasks_of(given.pages, given.first_seed)
    queue: Queue[Example] = Queue(maxsize=1200)
    with multiprocessing.get_context("fork").Pool(given.workers) as pool:
        drawn = pool.imap_unordered(draw_example, tasks[:VALIDATION_PAGES], chunksize=1)
        kept = [e for e in drawn if e is not None]
        drawn = pool.imap_unordered(draw_example, tasks[VALIDATION_PAGES:], chunksize=2)
        threading.Thread(target=collect, args=(drawn, queue), daemon=True).start()
        import torch

        device = "cuda" if torch.cuda.is_available() else "cpu"
        shelf = Shelf(given.pages, device)
        while shelf.filled < min(LEAST_PAGES, given.pages // 2):
            take(shelf, queue)
            time.sleep(0.05)
        print(f"training begins after {time.time() - start:.0f} s", flush=True)
        apart = Shelf(len(kept), device)
        apart.add(kept)
        pupil = Pupil(shelf, given.warm)
        for k, (minutes, rate) in enumerate(zip(given.minutes, given.rates, strict=True)):
            train(pupil, shelf, queue, 60 * minutes, rate, given.batch)
            net = copy.deepcopy(pupil.average.module).eval()
            report(net, apart)
            export(net, given.out.with_stem(f"{given.out.stem}-{k + 1}"))
        pool.terminate()


if __name__ == "__main__":
    main()
