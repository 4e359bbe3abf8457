"""The small net and what it is taught (a part of train_evidence.py; needs PyTorch).

An encoder-decoder with additive skips (after Chaurasia and Culurciello 2017, doi
10.1109/VCIP.2017.8305148; from memory). From features at a quarter of the page it answers at
half of it, four sub-pixels a place (after Shi et al. 2016, doi 10.1109/CVPR.2016.207; from
memory), with three maps of log-odds: border, ground, inside. At an eighth each place also
votes for the panel it lies in: how far the panel reaches in eight directions, how sure that
is (Laplace), and where its four corners lie (votes per pixel after Zhou et al. 2017, doi
10.1109/CVPR.2017.283; from memory).
"""

from __future__ import annotations

import math

import torch
import torch.nn.functional as F
from torch import nn

WIDTHS = (16, 32, 56, 96, 144, 192)
BLOCKS = (0, 0, 1, 1, 0)
"""Residual blocks at a quarter, an eighth and so on of the page."""
UNIT_PX = 100.0
HALF = math.sqrt(0.5)
WAYS = (
    (-1, 0),
    (1, 0),
    (0, -1),
    (0, 1),
    (-HALF, -HALF),
    (HALF, -HALF),
    (HALF, HALF),
    (-HALF, HALF),
)
"""Directions of the eight reaches, x before y; the last four also tell the corners apart."""
SMALL_COUNT_MORE = 0.65
"""A panel's places weigh its size to minus this power: at 1 an inset would count as its host."""


def _conv(a: int, b: int, stride: int = 1, spread: int = 1) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(a, b, 3, stride, spread, dilation=spread, bias=False),
        nn.BatchNorm2d(b),
        nn.ReLU(inplace=True),
    )


class Block(nn.Module):
    """Two convolutions beside what they add to (He et al. 2016, doi 10.1109/CVPR.2016.90)."""

    def __init__(self, width: int) -> None:
        super().__init__()
        self.added = nn.Sequential(
            _conv(width, width),
            nn.Conv2d(width, width, 3, padding=1, bias=False),
            nn.BatchNorm2d(width),
        )

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """Features of the same shape."""
        return F.relu(x + self.added(x))


class Net(nn.Module):
    """Input (B, 3, H, W) in 0..1; output maps (B, 12, H/4, W/4) and votes (B, 24, H/8, W/8)."""

    def __init__(self, widths: tuple[int, ...] = WIDTHS, blocks: tuple[int, ...] = BLOCKS) -> None:
        super().__init__()
        w = widths
        self.stem = _conv(3, w[0], 2)
        self.down = nn.ModuleList(
            nn.Sequential(
                _conv(w[i], w[i + 1], 2),
                _conv(w[i + 1], w[i + 1]),
                *(Block(w[i + 1]) for _ in range(blocks[i])),
            )
            for i in range(len(w) - 1)
        )
        self.deep = nn.Sequential(_conv(w[-1], w[-1], spread=2), _conv(w[-1], w[-1]))
        steps = range(2, len(w))
        self.narrow = nn.ModuleList(nn.Conv2d(w[i], w[i - 1], 1) for i in steps)
        self.mix = nn.ModuleList(_conv(w[i - 1], w[i - 1]) for i in steps)
        self.up = nn.Upsample(scale_factor=2, mode="bilinear", align_corners=False)
        self.maps = nn.Conv2d(w[1], 12, 3, padding=1)
        self.votes = nn.Sequential(_conv(w[2], 64), _conv(64, 64), nn.Conv2d(64, 24, 1))

    def forward(self, x: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        """Maps and votes of a batch of pages."""
        seen = [self.stem(x)]
        for step in self.down:
            seen.append(step(seen[-1]))
        y = seen[-1] + self.deep(seen[-1])
        votes = None
        for i in reversed(range(len(self.narrow))):
            y = self.mix[i](self.up(self.narrow[i](y)) + seen[i + 1])
            if i == 1:
                votes = self.votes(y)
        return self.maps(y), votes


def worn(x: torch.Tensor) -> torch.Tensor:
    """Random wear: tone, colour, blur, two tones, noise, inversion."""
    count = x.shape[0]

    def some(share: float) -> torch.Tensor:
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
    small = F.interpolate(x, scale_factor=0.42, mode="bilinear", antialias=True)
    coarse = F.interpolate(small, size=x.shape[2:], mode="bilinear")
    x = torch.where(some(0.06), coarse, x)
    coarse = torch.randn(count, 3, 6, 5, device=x.device)
    shade = F.interpolate(coarse, size=x.shape[2:], mode="bicubic")
    x = x + torch.where(some(0.3), 0.06 * shade, torch.zeros_like(x))
    level = 0.35 + 0.3 * torch.rand(count, 1, 1, 1, device=x.device)
    two = ((x.mean(dim=1, keepdim=True) - level) * 12 + 0.5).clamp(0, 1).expand_as(x)
    x = torch.where(some(0.1), two, x)
    x = x + 0.05 * torch.rand(count, 1, 1, 1, device=x.device) * torch.randn_like(x)
    return x.clamp(0, 1)


def moved(
    x: torch.Tensor, maps: torch.Tensor, hulls: torch.Tensor
) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
    """Mirror, turn, scale and shift pages, their maps and their panels' hulls alike."""
    count, device = x.shape[0], x.device
    height, width = x.shape[2:]
    turn = 0.03 * torch.randn(count, device=device)
    turn = torch.where(torch.rand(count, device=device) < 0.6, torch.zeros_like(turn), turn)
    size = torch.exp(0.12 * torch.randn(count, device=device)).clamp(0.75, 1.3)
    flip = torch.where(torch.rand(count, device=device) < 0.5, -1.0, 1.0)
    ratio = height / width
    theta = torch.zeros(count, 2, 3, device=device)
    theta[:, 0, 0] = flip * size * torch.cos(turn)
    theta[:, 0, 1] = -size * torch.sin(turn) * ratio
    theta[:, 1, 0] = flip * size * torch.sin(turn) / ratio
    theta[:, 1, 1] = size * torch.cos(turn)
    theta[:, :, 2] = (0.06 * torch.randn(count, 2, device=device)).clamp(-0.12, 0.12)
    grid = F.affine_grid(theta, list(x.shape), align_corners=False)
    x = F.grid_sample(x, grid, padding_mode="border", align_corners=False)
    grid = F.affine_grid(theta, list(maps.shape), align_corners=False)
    soft = F.grid_sample(maps[:, :2], grid, padding_mode="border", align_corners=False)
    owner = F.grid_sample(
        maps[:, 2:], grid, mode="nearest", padding_mode="border", align_corners=False
    )
    whole = torch.tensor([width, height], device=device, dtype=torch.float32)
    back = torch.linalg.inv(theta[:, :, :2])
    place = 2 * hulls / whole - 1 - theta[:, None, None, :, 2]
    place = torch.einsum("bij,bpvj->bpvi", back, place)
    hulls = ((place + 1) * whole / 2).clamp(min=torch.zeros(2, device=device), max=whole)
    return x, torch.cat([soft, owner], dim=1), hulls


def vote_targets(
    owner: torch.Tensor, hulls: torch.Tensor
) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
    """Reaches and corners (B, 8, h, w) in units of 100 px, and each place's weight (B, h, w)."""
    device = owner.device
    of = owner[:, 0, 2::4, 2::4].long()
    count, rows, columns = of.shape
    ways = torch.tensor(WAYS, device=device, dtype=torch.float32)
    along = torch.einsum("bpvi,di->bpvd", hulls, ways)
    reach, first = along.max(dim=2)
    corner = torch.gather(hulls, 2, first[..., 4:, None].expand(-1, -1, -1, 2))
    figure = torch.cat([reach, corner.flatten(2)], dim=2)
    flat = (of.flatten(1) - 1).clamp(min=0)
    mine = torch.gather(figure, 1, flat[..., None].expand(-1, -1, 16))
    mine = mine.view(count, rows, columns, 16).permute(0, 3, 1, 2)
    y = 8 * torch.arange(rows, device=device) + 5.0
    x = 8 * torch.arange(columns, device=device) + 5.0
    place = torch.stack([x.expand(rows, -1), y[:, None].expand(-1, columns)])
    reaches = mine[:, :8] - torch.einsum("di,iyx->dyx", ways, place)
    corners = mine[:, 8:] - place.repeat(4, 1, 1)
    ones = torch.ones_like(of, dtype=torch.float32).flatten(1)
    sizes = torch.zeros(count, hulls.shape[1] + 1, device=device)
    sizes = sizes.scatter_add(1, of.flatten(1), ones)
    weight = torch.gather(sizes.clamp(min=1) ** -SMALL_COUNT_MORE, 1, of.flatten(1)).view(of.shape)
    return reaches / UNIT_PX, corners / UNIT_PX, weight * (of > 0)


def cost(
    out: tuple[torch.Tensor, torch.Tensor], maps: torch.Tensor, hulls: torch.Tensor
) -> tuple[torch.Tensor, torch.Tensor]:
    """Cost of the maps and of the votes."""
    found = F.pixel_shuffle(out[0].float(), 2)
    owner = maps[:, 2:]
    true = torch.cat([maps[:, :1], (owner < 0.5).float(), maps[:, 1:2]], dim=1)
    heavier = torch.tensor([4.0, 1.0, 1.0], device=found.device).view(3, 1, 1)
    odds = F.binary_cross_entropy_with_logits(found, true, pos_weight=heavier)
    p = found.sigmoid()
    dice = 1 - (2 * (p * true).sum((2, 3)) + 1) / ((p + true).sum((2, 3)) + 1)
    reaches, corners, weight = vote_targets(owner, hulls)
    votes = out[1].float()
    spread = votes[:, 8:16].clamp(-5, 2)
    laplace = (votes[:, :8] - reaches).abs() * torch.exp(-spread) + spread
    apart = F.smooth_l1_loss(votes[:, 16:], corners, beta=0.1, reduction="none")
    voted = laplace.mean(dim=1) + 2.0 * apart.mean(dim=1)
    total = (voted * weight).sum((1, 2)) / weight.sum((1, 2)).clamp(min=1e-6)
    return odds + 0.3 * dice.mean(), total.mean()
