"""Writes the trained net as ONNX, weights in half precision: python3 export.py net.pt ../net/strip-reader.onnx"""

import sys

import numpy as np
import onnx
import torch
from onnx import TensorProto, helper, numpy_helper
from torch.nn.utils.fusion import fuse_conv_bn_eval

from net import HEIGHT, Net
from text import ALPHABET


class Graph:
    def __init__(self):
        self.nodes, self.weights = [], []

    def add(self, kind, inputs, **attributes):
        name = f"t{len(self.nodes)}"
        self.nodes.append(helper.make_node(kind, inputs, [name], **attributes))
        return name

    def weight(self, tensor):
        """A weight stored in half precision and cast when the net is loaded."""
        name = f"w{len(self.weights)}"
        self.weights.append(numpy_helper.from_array(tensor.detach().numpy().astype(np.float16), name))
        return self.add("Cast", [name], to=TensorProto.FLOAT)

    def conv(self, x, conv):
        weight, bias = self.weight(conv.weight), self.weight(conv.bias)
        (top, left) = conv.padding
        return self.add("Conv", [x, weight, bias], kernel_shape=list(conv.kernel_size), strides=list(conv.stride),
                        pads=[top, left, top, left], dilations=list(conv.dilation), group=conv.groups)

    def relu(self, x):
        return self.add("Relu", [x])


def export(net):
    net, graph = net.eval(), Graph()
    fused = lambda c: fuse_conv_bn_eval(c.conv, c.norm)
    x = "picture"
    layer = lambda x, conv: graph.relu(graph.conv(x, fused(conv)))

    def blocks(x, blocks):
        for block in blocks:
            x = graph.add("Add", [x, layer(layer(x, block.around), block.mix)])
        return x

    x = blocks(layer(x, net.patch), net.rows10)
    x = blocks(layer(layer(x, net.halve), net.widen), net.rows5)
    x = blocks(layer(x, net.flatten), net.line)
    x = graph.conv(x, net.head)
    graph.weights.append(numpy_helper.from_array(np.array([2], np.int64), "axes"))
    x = graph.add("Squeeze", [x, "axes"])
    picture = helper.make_tensor_value_info("picture", TensorProto.FLOAT, [1, 1, HEIGHT, "width"])
    logits = helper.make_tensor_value_info(x, TensorProto.FLOAT, [1, len(ALPHABET) + 1, "columns"])
    made = helper.make_graph(graph.nodes, "strip reader", [picture], [logits], graph.weights)
    model = helper.make_model(made, opset_imports=[helper.make_opsetid("", 17)], ir_version=8)
    onnx.checker.check_model(model)
    return model


if __name__ == "__main__":
    net = Net(len(ALPHABET) + 1)
    net.load_state_dict(torch.load(sys.argv[1], map_location="cpu"))
    onnx.save(export(net), sys.argv[2])
