"""Bodies, gates and clutter look outwards; the camera agrees with OpenCV's."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from stampreader.train.photos import mesh, parts, shapes
from stampreader.train.photos.camera import aim, widened


@pytest.mark.parametrize("kind", ["oval", "D", "offset", "pear", "link"])
def test_bodies_look_outwards(kind: str) -> None:
    """A body's faces enclose a positive volume and its stamped side looks up."""
    for seed in range(3):
        form = shapes.invent_form(np.random.default_rng(seed), kind)
        body = shapes.sweep(form, 15, 2.5, 0.3)
        made = mesh.from_grid(body.points, True, np.ones(3), 0.3, 1.0)
        assert mesh.volume(made) > 0
        normals = made.normals.reshape(body.points.shape)
        middle = normals[np.argmin(np.abs(body.u)), np.argmin(np.abs(body.s))]
        assert middle[2] > 0.95


@pytest.mark.parametrize("kind", ["oval", "D", "offset", "pear", "link"])
def test_spine_runs_up_the_left(kind: str) -> None:
    """The way along the body grows upwards on the spine, on the side away from the gate."""
    form = shapes.invent_form(np.random.default_rng(4), kind)
    line, tangent = shapes.centre_line(form)
    middle, straight = shapes.spine_middle(line, tangent)
    at = int(middle * 10)
    assert tangent[at, 1] > 0.98
    assert line[at, 0] < line[:, 0].mean()
    assert straight > 0.3 * form.length


def test_gates_and_clutter_look_outwards() -> None:
    """Turned parts, tubes and boxes enclose positive volumes."""
    rng = np.random.default_rng(2)
    for kind in ("oval", "link"):
        form = shapes.invent_form(rng, kind)
        assert all(mesh.volume(m) > 0 for m in parts.gate(form, rng, np.ones(3), 0.3))
    assert all(mesh.volume(make(rng, np.zeros(3), 0.4)) > 0 for make in parts.CLUTTER)


def test_normals_agree_with_faces() -> None:
    """Vertex normals point to the same side as the faces around them."""
    form = shapes.invent_form(np.random.default_rng(1), "pear")
    body = shapes.sweep(form, 15, 2.5, 0.4)
    made = mesh.from_grid(body.points, True, np.ones(3), 0.3, 1.0)
    a, b, c = (made.points[made.faces[:, k]] for k in range(3))
    flat = np.cross(b - a, c - a)
    big = np.linalg.norm(flat, axis=1) > 1e-4
    agree = np.einsum("ij,ij->i", flat, made.normals[made.faces[:, 0]])[big] > 0
    assert agree.mean() > 0.999


def test_camera_projects_as_opencv_does() -> None:
    """Pixels of points equal cv2.projectPoints with the same pinhole (general library)."""
    camera = aim(np.array([3.0, -2, 5]), 25, 70, 200, 45, 120, (1200, 900), 1.0)
    points = np.random.default_rng(0).uniform(-30, 30, (40, 3))
    right, down, forward = camera.axes()
    rotation = np.stack([right, down, forward])
    k = 600 / np.tan(np.radians(22.5))
    matrix = np.array([[k, 0, 600], [0, k, 450], [0, 0, 1]])
    shift = -rotation @ camera.eye
    expected, _ = cv2.projectPoints(points, cv2.Rodrigues(rotation)[0], shift, matrix, None)
    assert np.abs(expected[:, 0] - camera.project(points)).max() < 1e-3


def test_widened_camera_sees_all_points() -> None:
    """A camera too near is moved back until every point is in the picture."""
    camera = aim(np.zeros(3), 10, 0, 30, 40, 40, (800, 600), 1.0)
    points = np.array([[-60, 0, 0], [60, 5, 0], [0, 40, 3.0]])
    at = widened(camera, points, 0.03).project(points)
    assert (at > 15).all() and (at < [785, 585]).all()
