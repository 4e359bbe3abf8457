"""Begin training with the weights of an older net (a part of train_evidence.py; needs PyTorch).

An exported net has its batch norms folded into its convolutions. A batch of pages tells mean
and spread behind each, so that the norms can be parted again without changing an answer.
Blocks that the older net lacks begin as nothing added.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import torch
from evidence_net import Block
from torch import nn


def warmed(net: nn.Module, older: Path, pages: torch.Tensor) -> None:
    """Lay an older net's weights into a net, in place.

    Parameters
    ----------
    net : Net
    older : Path
        An exported net, with or without the blocks.
    pages : tensor of float32, shape (B, 3, H, W)
        Pages in 0..1.

    Raises
    ------
    ValueError
        The older net has other convolutions.
    """
    weights = list(_convolutions(older))
    with_blocks = len(weights) == sum(isinstance(m, nn.Conv2d) for m in net.modules())
    filler = _Filler(iter(weights))
    hooks = []
    for name, part in net.named_modules():
        if ".added." in name and not with_blocks:
            continue
        if isinstance(part, nn.Conv2d):
            hooks.append(part.register_forward_pre_hook(filler.fill))
        elif isinstance(part, nn.BatchNorm2d):
            hooks.append(part.register_forward_pre_hook(filler.part_again))
    if not with_blocks:
        for block in (m for m in net.modules() if isinstance(m, Block)):
            nn.init.zeros_(block.added[-1].weight)
    net.eval()
    with torch.no_grad():
        net(pages)
    for hook in hooks:
        hook.remove()
    net.train()
    if next(filler.weights, None) is not None:
        raise ValueError(f"{older}: the older net has more convolutions; train without --warm")


def _convolutions(path: Path) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Weights and bias of each convolution, in the order in which they are asked."""
    import onnx
    from onnx import numpy_helper

    graph = onnx.load(str(path)).graph
    kept = {i.name: numpy_helper.to_array(i) for i in graph.initializer}
    for node in graph.node:
        if node.op_type == "Conv":
            yield kept[node.input[1]], kept[node.input[2]]


class _Filler:
    """Hooks that lay weights in as the net is asked."""

    def __init__(self, weights: Iterator[tuple[np.ndarray, np.ndarray]]) -> None:
        self.weights = weights
        self.bias = torch.zeros(0)

    def fill(self, conv: nn.Conv2d, _: tuple[torch.Tensor, ...]) -> None:
        """Weights of the next convolution."""
        weight, bias = (torch.from_numpy(w.copy()) for w in next(self.weights))
        if weight.shape != conv.weight.shape:
            raise ValueError(f"a convolution of {weight.shape}, not {conv.weight.shape}")
        conv.weight.data.copy_(weight)
        self.bias = bias.to(conv.weight.device)
        if conv.bias is not None:
            conv.bias.data.copy_(self.bias)

    def part_again(self, norm: nn.BatchNorm2d, given: tuple[torch.Tensor, ...]) -> None:
        """A norm that changes nothing but adds the convolution's folded bias."""
        mean = given[0].mean((0, 2, 3))
        spread = given[0].var((0, 2, 3), unbiased=False)
        norm.running_mean.copy_(mean)
        norm.running_var.copy_(spread)
        norm.weight.data.copy_((spread + norm.eps).sqrt())
        norm.bias.data.copy_(self.bias + mean)
