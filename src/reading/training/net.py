"""The net: grey lines of 40 pixels height in, CTC logits for every fourth column out."""

import torch
from torch import nn

HEIGHT = 40


class Conv(nn.Module):
    """Convolution and batch normalisation, the latter folded away in `export.py`."""

    def __init__(self, inputs, outputs, size, stride=(1, 1), padding=None, dilation=(1, 1), groups=1):
        super().__init__()
        padding = padding if padding is not None else tuple(d * (s // 2) for s, d in zip(size, dilation))
        self.conv = nn.Conv2d(inputs, outputs, size, stride, padding, dilation, groups, bias=False)
        self.norm = nn.BatchNorm2d(outputs)

    def forward(self, x):
        return self.norm(self.conv(x))


class Block(nn.Module):
    """Looks around each place, channel by channel, then mixes the channels; added to what came in."""

    def __init__(self, channels, size, dilation=1):
        super().__init__()
        self.around = Conv(channels, channels, size, dilation=(1, dilation), groups=channels)
        self.mix = Conv(channels, channels, (1, 1))

    def forward(self, x):
        return x + torch.relu(self.mix(torch.relu(self.around(x))))


# Channels and blocks at ten rows, at five, and along the line.
TEN_ROWS, FIVE_ROWS, LINE = (64, 2), (128, 2), 192
# Distances of the columns that the blocks along the line look at.
DILATIONS = (1, 2, 4, 1, 1)


class Net(nn.Module):
    """Patches of 8 x 8 pixels, four apart, then separable convolutions: cheap where a plain convolution would gather
    every pixel nine times."""

    def __init__(self, classes):
        super().__init__()
        (rows10, blocks10), (rows5, blocks5), line = TEN_ROWS, FIVE_ROWS, LINE
        self.patch = Conv(1, rows10, (8, 8), (4, 4), padding=(2, 2))
        self.rows10 = nn.Sequential(*[Block(rows10, (3, 3)) for _ in range(blocks10)])
        self.halve = Conv(rows10, rows10, (3, 3), (2, 1), groups=rows10)
        self.widen = Conv(rows10, rows5, (1, 1))
        self.rows5 = nn.Sequential(*[Block(rows5, (3, 3)) for _ in range(blocks5)])
        self.flatten = Conv(rows5, line, (5, 1), padding=(0, 0))
        self.line = nn.Sequential(*[Block(line, (1, 9), dilation) for dilation in DILATIONS])
        self.head = nn.Conv2d(line, classes, 1)

    def forward(self, x):
        """[lines, 1, 40, width] to [lines, classes, width / 4]."""
        x = self.rows10(torch.relu(self.patch(x)))
        x = self.rows5(torch.relu(self.widen(torch.relu(self.halve(x)))))
        return self.head(self.line(torch.relu(self.flatten(x)))).squeeze(2)


def cost(net, width=1200):
    """Multiply-adds of a line of this width, and parameters."""
    total = 0

    def count(module, inputs, output):
        nonlocal total
        weight = module.weight
        total += output.shape[2] * output.shape[3] * weight.numel()

    hooks = [m.register_forward_hook(count) for m in net.modules() if isinstance(m, nn.Conv2d)]
    training = net.training
    with torch.no_grad():
        net.eval()(torch.zeros(1, 1, HEIGHT, width, device=next(net.parameters()).device))
    net.train(training)
    for hook in hooks:
        hook.remove()
    return total, sum(p.numel() for p in net.parameters())
