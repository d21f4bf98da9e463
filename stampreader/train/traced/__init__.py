"""Training stamps by path tracing: stamps of true geometry, in light that falls as light does.

A stamp drawn by `layout` becomes a body (`body.py`) that is photographed from several sides
(`scene.py`); Blender's Cycles traces it (`blender.py`, run by a Python that has `bpy`), and
`train.prints` shows the pictures to the networks. Nothing is shared with `train.photos`, which makes
the photos that are measured on: another tracer, other geometry, other faces, other drawings.
"""
