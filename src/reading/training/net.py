"""The net: grey lines of 40 pixels height in, CTC logits for every fourth column out."""

import torch
from torch import nn

HEIGHT = 40
CHANNELS = 224


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
    """Looks along the line: depthwise over nine columns, then a mix of channels, added to what came in."""

    def __init__(self, channels, dilation):
        super().__init__()
        self.along = Conv(channels, channels, (1, 9), dilation=(1, dilation), groups=channels)
        self.mix = Conv(channels, channels, (1, 1))

    def forward(self, x):
        return x + torch.relu(self.mix(torch.relu(self.along(x))))


class Net(nn.Module):
    """About .48 billion multiply-adds for a line of 40 x 1,200 pixels."""

    def __init__(self, classes):
        super().__init__()
        self.stem = nn.ModuleList([
            Conv(1, 24, (5, 5), (2, 2)),
            Conv(24, 24, (3, 3)),
            Conv(24, 64, (3, 3), (2, 2)),
            Conv(64, 64, (3, 3)),
            Conv(64, 96, (3, 3), (2, 1)),
            Conv(96, CHANNELS, (5, 3), padding=(0, 1)),
        ])
        self.blocks = nn.ModuleList([Block(CHANNELS, dilation) for dilation in (1, 2, 4, 1, 1)])
        self.head = nn.Conv2d(CHANNELS, classes, 1)

    def forward(self, x):
        """[lines, 1, 40, width] to [lines, classes, width / 4]."""
        for conv in self.stem:
            x = torch.relu(conv(x))
        for block in self.blocks:
            x = block(x)
        return self.head(x).squeeze(2)


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
