"""Development only (extra `[train]`): draws stamps, shades them as metal, trains the readers.

Takes open type faces from package registries; gives `reader/*.onnx` and `reader/card.json`. No
other room imports this one. Sources of the methods: centre-point detection (arXiv 1904.07850),
connectionist temporal classification (Graves et al., ICML 2006), microfacet appearance through
pre-filtered environment pictures (Physically Based Rendering, 4th ed., ch. 9).
"""
