"""Traces scenes with Blender's Cycles. Run by a Python that has `bpy`; needs nothing else of ours.

    PYTHON_WITH_BPY stampreader/train/traced/blender.py SCENES PICTURES [--device CUDA] [--samples 48]

Takes scenes (`*.npz`) out of a folder as they come, until a file `end` lies there, and gives for each a
`.npz` with its pictures, linear light, and all that the scene says of them. Several may run side by
side on one folder: a scene is taken by renaming it.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

PASSED_ON = ("glyphs", "lines", "spots", "plate")
"""What of a scene goes with its pictures."""


class Studio:
    """One scene of Blender, filled anew for each body.

    Args:
        device: CPU, CUDA or OPTIX.
        samples: light paths a pixel.
        size: width and height of a picture.
    """

    def __init__(self, device: str, samples: int, size: tuple[int, int]) -> None:
        import bpy

        self.bpy = bpy
        bpy.ops.wm.read_factory_settings(use_empty=True)
        scene = self.scene = bpy.context.scene
        scene.render.engine = "CYCLES"
        if device != "CPU":
            chosen = bpy.context.preferences.addons["cycles"].preferences
            chosen.compute_device_type = device
            chosen.get_devices()
            for one in chosen.devices:
                one.use = one.type == device
            if not any(one.use for one in chosen.devices):
                raise SystemExit(f"no device for {device}: {[d.type for d in chosen.devices]}")
            scene.cycles.device = "GPU"
        cycles = scene.cycles
        cycles.samples, cycles.use_adaptive_sampling, cycles.use_denoising = samples, False, False
        cycles.max_bounces, cycles.diffuse_bounces, cycles.glossy_bounces = 4, 2, 4
        cycles.sample_clamp_indirect = 12.0
        cycles.caustics_reflective = True
        scene.render.resolution_x, scene.render.resolution_y = size
        scene.render.resolution_percentage = 100
        scene.render.use_persistent_data = True
        scene.render.image_settings.file_format = "OPEN_EXR"
        scene.render.image_settings.color_depth = "16"
        scene.render.image_settings.color_mode = "RGB"
        folder = Path("/dev/shm") if Path("/dev/shm").is_dir() else Path(tempfile.gettempdir())
        self.file = folder / f"traced-{os.getpid()}.exr"
        scene.render.filepath = str(self.file)
        scene.render.use_file_extension = False
        self._camera(size)
        self._sky()
        self._lamp()
        self.metal, self.coat, self.grain, self.tangent = self._metal()
        self.bench = self._bench()
        self.tubes = [self._plain(f"tube{i}") for i in range(4)]
        self.added: list[Any] = []

    def _camera(self, size: tuple[int, int]) -> None:
        data = self.bpy.data.cameras.new("phone")
        data.sensor_width, data.sensor_fit = 36.0, "HORIZONTAL"
        data.clip_start, data.clip_end = 0.1, 1e5
        self.camera = self.bpy.data.objects.new("phone", data)
        self.scene.collection.objects.link(self.camera)
        self.scene.camera = self.camera
        self.wide = size[0]

    def _sky(self) -> None:
        world = self.scene.world = self.bpy.data.worlds.new("room")
        world.use_nodes = True
        nodes, links = world.node_tree.nodes, world.node_tree.links
        texture = nodes.new("ShaderNodeTexEnvironment")
        self.sky = self.bpy.data.images.new("sky", 256, 128, float_buffer=True)
        self.sky.colorspace_settings.name = "Non-Color"
        texture.image = self.sky
        links.new(texture.outputs["Color"], nodes["Background"].inputs["Color"])

    def _lamp(self) -> None:
        light = self.bpy.data.lights.new("lamp", "POINT")
        self.lamp = self.bpy.data.objects.new("lamp", light)
        self.lamp.visible_camera = False
        self.scene.collection.objects.link(self.lamp)

    def _metal(self) -> tuple[Any, Any, Any, Any]:
        material = self.bpy.data.materials.new("metal")
        material.use_nodes = True
        nodes, links = material.node_tree.nodes, material.node_tree.links
        body = nodes["Principled BSDF"]
        for name, socket in (("base", "Base Color"), ("rough", "Roughness"), ("metal", "Metallic")):
            value = nodes.new("ShaderNodeAttribute")
            value.attribute_name = name
            links.new(value.outputs["Fac"], body.inputs[socket])
        tangent = nodes.new("ShaderNodeTangent")
        tangent.direction_type = "RADIAL"
        links.new(tangent.outputs["Tangent"], body.inputs["Tangent"])
        return material, body, body.inputs["Anisotropic"], tangent

    def _plain(self, name: str) -> tuple[Any, Any]:
        material = self.bpy.data.materials.new(name)
        material.use_nodes = True
        return material, material.node_tree.nodes["Principled BSDF"]

    def _bench(self) -> dict[str, Any]:
        material, body = self._plain("bench")
        nodes, links = material.node_tree.nodes, material.node_tree.links
        place, wide, image = (
            nodes.new(n) for n in ("ShaderNodeTexCoord", "ShaderNodeMapping", "ShaderNodeTexImage")
        )
        bump = nodes.new("ShaderNodeBump")
        links.new(place.outputs["Object"], wide.inputs["Vector"])
        links.new(wide.outputs["Vector"], image.inputs["Vector"])
        links.new(image.outputs["Color"], body.inputs["Base Color"])
        links.new(image.outputs["Color"], bump.inputs["Height"])
        links.new(bump.outputs["Normal"], body.inputs["Normal"])
        picture = self.bpy.data.images.new("cloth", 512, 512, float_buffer=True)
        picture.colorspace_settings.name = "Non-Color"
        image.image, image.extension = picture, "MIRROR"
        mesh = self.bpy.data.meshes.new("bench")
        far = 3000.0
        mesh.from_pydata(
            [(-far, -far, 0), (far, -far, 0), (far, far, 0), (-far, far, 0)], [], [(0, 1, 2, 3)]
        )
        mesh.materials.append(material)
        board = self.bpy.data.objects.new("bench", mesh)
        self.scene.collection.objects.link(board)
        return {"object": board, "body": body, "wide": wide, "picture": picture, "bump": bump}

    def fill(self, file: Any) -> None:
        """Put a body on the bench, in the place of the last."""
        for old in self.added:
            data = old.data
            self.bpy.data.objects.remove(old)
            if data.users == 0:
                kind = self.bpy.data.meshes if hasattr(data, "polygons") else self.bpy.data.curves
                kind.remove(data)
        self.added = [self._body(file)]
        height, size, rough, bumps = file["bench_at"]
        bench = self.bench
        bench["object"].location = (0, 0, height)
        bench["wide"].inputs["Scale"].default_value = (0.5 / size, 0.5 / size, 1)
        bench["body"].inputs["Roughness"].default_value = rough
        bench["bump"].inputs["Strength"].default_value = bumps
        bench["bump"].inputs["Distance"].default_value = size / 30
        _paint(bench["picture"], file["bench"].astype(np.float32) / 255)
        self.grain.default_value = float(file["grain"][0])
        self.tangent.axis = "XYZ"[int(file["grain"][1])]
        self.coat.inputs["Coat Weight"].default_value = float(file["coat"][0])
        self.coat.inputs["Coat Roughness"].default_value = float(file["coat"][1])
        for i, tube in enumerate(file["tubes"]):
            self.added.append(self._tube(i, tube))

    def _body(self, file: Any) -> Any:
        points = file["points"]
        rows, columns = points.shape[:2]
        mesh = self.bpy.data.meshes.new("body")
        mesh.vertices.add(rows * columns)
        mesh.vertices.foreach_set("co", points.ravel())
        at = np.arange(rows * columns, dtype=np.int32).reshape(rows, columns)
        nxt = np.roll(at, -1, 1)
        quads = np.stack([at[:-1], at[1:], nxt[1:], nxt[:-1]], -1).reshape(-1, 4)[:, ::-1]
        mesh.loops.add(quads.size)
        mesh.loops.foreach_set("vertex_index", np.ascontiguousarray(quads).ravel())
        mesh.polygons.add(len(quads))
        mesh.polygons.foreach_set("loop_start", np.arange(0, quads.size, 4, dtype=np.int32))
        mesh.update()
        mesh.shade_smooth()
        for name in ("base", "rough", "metal"):
            values = mesh.attributes.new(name, "FLOAT", "POINT")
            values.data.foreach_set("value", file[name].astype(np.float32).ravel())
        mesh.materials.append(self.metal)
        body = self.bpy.data.objects.new("body", mesh)
        self.scene.collection.objects.link(body)
        return body

    def _tube(self, number: int, tube: Any) -> Any:
        curve = self.bpy.data.curves.new("tube", "CURVE")
        curve.dimensions, curve.bevel_depth, curve.bevel_resolution = "3D", float(tube[0, 0]), 5
        line = curve.splines.new("POLY")
        line.points.add(len(tube) - 2)
        line.points.foreach_set(
            "co", np.column_stack([tube[1:, :3], np.ones(len(tube) - 1)]).ravel()
        )
        material, body = self.tubes[number]
        tone = float(tube[0, 1])
        body.inputs["Base Color"].default_value = (tone, tone, tone, 1)
        body.inputs["Metallic"].default_value = float(tube[0, 2] > 0.4)
        body.inputs["Roughness"].default_value = 0.05 + 0.6 * float(tube[0, 3])
        curve.materials.append(material)
        piece = self.bpy.data.objects.new("tube", curve)
        self.scene.collection.objects.link(piece)
        return piece

    def take(self, file: Any, view: int) -> Any:
        """(h, w) float16 picture of one view, linear light; row 0 on top."""
        import mathutils

        eye = file["eye"][view]
        pose = np.eye(4)
        pose[:3, :3] = eye[:, :3].T
        pose[:3, 3] = -eye[:, :3].T @ eye[:, 3]
        self.camera.matrix_world = mathutils.Matrix(pose.tolist())
        lens = self.camera.data
        lens.lens = float(file["focal"][view]) * lens.sensor_width / self.wide
        radius = float(file["aperture"][view])
        lens.dof.use_dof = radius > 0
        if radius > 0:
            lens.dof.focus_distance = float(file["focus"][view])
            lens.dof.aperture_fstop = max(lens.lens * 1e-3 / (2 * radius), 1e-4)
        _paint(self.sky, file["sky"][view])
        *place, size, strength, there = file["lamp"][view]
        self.lamp.hide_render = not there
        if there:
            self.lamp.location = place
            self.lamp.data.shadow_soft_size = float(size)
            self.lamp.data.energy = float(strength) * 40
        self.bpy.ops.render.render(write_still=True)
        image = self.bpy.data.images.load(str(self.file), check_existing=False)
        wide, high = image.size
        pixels = np.empty(wide * high * 4, np.float32)
        image.pixels.foreach_get(pixels)
        self.bpy.data.images.remove(image)
        picture = pixels.reshape(high, wide, 4)[::-1, :, 1]
        return np.nan_to_num(picture, posinf=6e4).clip(0, 6e4).astype(np.float16)


def _paint(image: Any, grey: Any) -> None:
    """Fill a picture of Blender from rows that begin on top."""
    flipped = grey[::-1].astype(np.float32)
    rgba = np.stack([flipped, flipped, flipped, np.ones_like(flipped)], -1)
    image.pixels.foreach_set(np.ascontiguousarray(rgba).ravel())
    image.update()


def main(arguments: list[str]) -> None:
    """Trace until there is nothing more to come."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("scenes", type=Path)
    parser.add_argument("pictures", type=Path)
    parser.add_argument("--device", default="CPU", choices=["CPU", "CUDA", "OPTIX"])
    parser.add_argument("--samples", type=int, default=48)
    parser.add_argument("--size", type=int, nargs=2, default=[640, 448])
    args = parser.parse_args(arguments)
    studio = Studio(args.device, args.samples, (args.size[0], args.size[1]))
    while True:
        waiting = sorted(args.scenes.glob("*.npz"))
        if not waiting:
            if (args.scenes / "end").exists():
                return
            time.sleep(0.1)
            continue
        path = waiting[hash(os.getpid()) % min(len(waiting), 8)]
        mine = path.with_suffix(f".{os.getpid()}")
        try:
            os.rename(path, mine)
        except OSError:
            continue  # another one was quicker
        with np.load(mine) as loaded:
            file = {name: loaded[name] for name in loaded.files}
        mine.unlink()
        studio.fill(file)
        pictures = np.stack([studio.take(file, k) for k in range(len(file["eye"]))])
        part = args.pictures / f"{path.stem}.part.npz"
        np.savez(part, picture=pictures, **{name: file[name] for name in PASSED_ON})
        os.replace(part, args.pictures / path.name)


if __name__ == "__main__":
    main(sys.argv[1:])
