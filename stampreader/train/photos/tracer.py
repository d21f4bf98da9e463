"""Hands a scene to Mitsuba 3 and gets linear pictures back.

One material kind with values per vertex serves every metal, rope and sticker, so that the tracer
compiles its kernels once: only arrays change from picture to picture.
"""

from __future__ import annotations

import os
from typing import Any

import numpy as np

from .camera import Camera
from .mesh import Mesh
from .shot import Scene, bench_mesh

CPU_LLVM = ("/usr/lib/x86_64-linux-gnu/libLLVM.so.19.1",)
SAMPLES_A_PASS = {"cuda_ad_rgb": 192_000_000, "llvm_ad_rgb": 16_000_000, "scalar_rgb": 10**12}
DEPTH = 6


def start(variant: str) -> Any:
    """Load Mitsuba with a variant."""
    if variant.startswith("llvm") and "DRJIT_LIBLLVM_PATH" not in os.environ:
        for path in CPU_LLVM:
            if os.path.exists(path):
                os.environ["DRJIT_LIBLLVM_PATH"] = path
    import mitsuba

    mitsuba.set_variant(variant)
    return mitsuba


class Tracer:
    """Renders scenes one after the other in this process."""

    def __init__(self, variant: str) -> None:
        self.variant = variant
        self.mi = start(variant)

    def _mesh(self, name: str, mesh: Mesh, material: dict, uv: np.ndarray | None) -> Any:
        mi = self.mi
        props = mi.Properties()
        props["bsdf"] = mi.load_dict(material)
        out = mi.Mesh(
            name, len(mesh.points), len(mesh.faces), has_vertex_normals=True,
            has_vertex_texcoords=uv is not None, props=props,
        )  # fmt: skip
        if uv is None:
            out.add_attribute("vertex_color", 3, np.ascontiguousarray(mesh.colour).ravel())
        out.add_attribute("vertex_rough", 1, np.ascontiguousarray(mesh.rough).ravel())
        out.add_attribute("vertex_metal", 1, np.ascontiguousarray(mesh.metal).ravel())
        params = mi.traverse(out)
        params["vertex_positions"] = mesh.points.ravel()
        params["vertex_normals"] = mesh.normals.ravel()
        params["faces"] = mesh.faces.ravel()
        if uv is not None:
            params["vertex_texcoords"] = np.ascontiguousarray(uv).ravel()
        params.update()
        return out

    def _material(self, colour: dict) -> dict:
        return {
            "type": "principled",
            "base_color": colour,
            "roughness": {"type": "mesh_attribute", "name": "vertex_rough"},
            "metallic": {"type": "mesh_attribute", "name": "vertex_metal"},
            "specular": 0.45,
        }

    def _sensor(self, camera: Camera) -> dict:
        right, down, forward = camera.axes()
        # Mitsuba's camera looks along +z with +x to the left and +y up in the picture.
        frame = np.eye(4)
        frame[:3, 0], frame[:3, 1], frame[:3, 2], frame[:3, 3] = -right, -down, forward, camera.eye
        return {
            "type": "thinlens",
            "fov": camera.fov_deg,
            "fov_axis": "x",
            "aperture_radius": camera.aperture,
            "focus_distance": camera.focus,
            "near_clip": 5.0,
            "far_clip": 5000.0,
            "to_world": self.mi.ScalarTransform4f(frame),
            "film": {
                "type": "hdrfilm",
                "width": camera.width,
                "height": camera.height,
                "pixel_format": "rgb",
                "component_format": "float32",
                "rfilter": {"type": "box"},
            },
            "sampler": {"type": "independent"},
        }

    def load(self, scene: Scene) -> dict[str, Any]:
        """The scene's objects but for light and camera."""
        mi = self.mi
        bench, uv = bench_mesh(scene)
        bitmap = mi.Bitmap(np.ascontiguousarray(scene.albedo, np.float32))
        wood = {"type": "bitmap", "bitmap": bitmap, "raw": True}
        by_vertex = {"type": "mesh_attribute", "name": "vertex_color"}
        return {
            "type": "scene",
            "integrator": {"type": "path", "max_depth": DEPTH},
            "things": self._mesh("things", scene.things, self._material(by_vertex), None),
            "bench": self._mesh("bench", bench, self._material(wood), uv),
        }

    def light(self, picture: np.ndarray) -> dict:
        """The environment; Mitsuba's maps have y up, ours z."""
        mi = self.mi
        turn = mi.ScalarTransform4f().rotate([1, 0, 0], 90)
        bitmap = mi.Bitmap(np.ascontiguousarray(picture, np.float32))
        return {"type": "envmap", "bitmap": bitmap, "to_world": turn}

    def trace(self, scene: Scene, spp: int, seed: int) -> list[np.ndarray]:
        """One linear picture (H, W, 3) float32 for every camera of the scene."""
        objects = self.load(scene)
        out = []
        for k, (camera, picture) in enumerate(zip(scene.cameras, scene.lights, strict=True)):
            loaded = self.mi.load_dict(
                {**objects, "light": self.light(picture), "sensor": self._sensor(camera)}
            )
            out.append(self._passes(loaded, camera, spp, seed + 1000 * k))
        return out

    def _passes(self, loaded: Any, camera: Camera, spp: int, seed: int) -> np.ndarray:
        pixels = camera.width * camera.height
        each = max(1, min(spp, SAMPLES_A_PASS[self.variant] // pixels))
        passes = max(1, round(spp / each))
        total = np.zeros((camera.height, camera.width, 3), np.float32)
        for k in range(passes):
            total += np.array(self.mi.render(loaded, spp=each, seed=seed + k))
        return total / passes
