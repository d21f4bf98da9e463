"""Random rigs, solved a second time by SciPy from their coordinates alone.

The equations are written anew here, joint by joint, and given to `scipy.optimize.linprog` with the
condition that no rope pushes; it knows nothing of the program's own equations.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import linprog

from stampreader.errors import PlanError
from stampreader.rig import Plan, Worked, work_out
from stampreader.rig.share import most_of_each

Read = Callable[..., Plan]


class Rig:
    """A random rig: joints hung one below the other from anchors, with loads, in 2 or 3 dimensions.

    Each joint hangs on as many ropes as there are dimensions, which lead to anchors or to joints
    above it. One rope more runs from an anchor over a pulley to a weight of its own.
    """

    def __init__(self, seed: int) -> None:
        dice = random.Random(seed)
        self.dim = dice.choice([2, 3])
        self.at: dict[str, tuple[float, ...]] = {}
        self.ropes: dict[str, list[str]] = {}
        self.load: dict[str, float] = {}
        for n in range(dice.randint(1, 4)):
            self._joint(f"j{n}", n, dice)
        self.efficiency = round(dice.uniform(0.4, 1.0), 3)
        self.way = dice.choice(["raising", "lowering"])
        self.hanging = round(dice.uniform(0.2, 2), 3)

    def _around(self, k: int, dice: random.Random) -> tuple[float, ...]:
        """A place high up, on the side that the k-th rope of a joint leads to."""
        turn = math.radians(360 / self.dim * k + dice.uniform(-50, 50))
        far = dice.uniform(1, 5)
        flat = [far * math.cos(turn), far * math.sin(turn)][: self.dim - 1]
        return (*(round(part, 3) for part in flat), round(dice.uniform(1, 5), 3))

    def _joint(self, name: str, n: int, dice: random.Random) -> None:
        flat = [round(dice.uniform(-1, 1), 3) for _ in range(self.dim - 1)]
        self.at[name] = (*flat, round(dice.uniform(-2 - 3 * n, -3 * n), 3))
        for k in range(self.dim):
            if n and dice.random() < 0.2:
                above = f"j{dice.randrange(n)}"
            else:
                above = f"a{n}{k}"
                self.at[above] = self._around(k, dice)
            if [above, name] not in self.ropes.values():
                self.ropes[f"r{n}{k}"] = [above, name]
        self.load[name] = round(dice.uniform(0.1, 3), 3)

    @property
    def text(self) -> str:
        """The rig as a plan."""
        lines = [f"way = '{self.way}'"]
        for name, at in self.at.items():
            lines += [f"[point.{name}]", f"at = {list(at)}"]
            if name in self.load:
                lines += ["kind = 'load'", f"force = '{self.load[name]} kN'"]
            else:
                lines.append("kind = 'anchor'")
        for name, path in self.ropes.items():
            lines += [f"[rope.{name}]", f"path = {path}"]
        # the pulley hangs on the first joint; its rope is held by a hand right below, so that the
        # two strands are parallel and only add to the joint's load
        first = list(self.at["j0"])
        below = [*first[:-1], first[-1] - 30]
        hand = [*first[:-1], first[-1] - 40]
        lines += [
            "[point.wheel]", "on = 'j0'", f"efficiency = {self.efficiency}",
            "[point.weight]", "kind = 'load'", f"at = {below}", f"force = '{self.hanging} kN'",
            "[point.hand]", "kind = 'hand'", f"at = {hand}",
            "[rope.over]", "path = ['weight', 'wheel', 'hand']",
        ]  # fmt: skip
        return "\n".join(lines)

    def by_scipy(self) -> dict[str, float] | None:
        """Tensions by linear programming; `None` where ropes alone cannot hold the rig."""
        names = list(self.ropes)
        joints = list(self.load)
        matrix = np.zeros((len(joints) * self.dim, len(names)))
        given = np.zeros(len(joints) * self.dim)
        for row, joint in enumerate(joints):
            for column, name in enumerate(names):
                a, b = self.ropes[name]
                if joint not in (a, b):
                    continue
                there = self.at[b if joint == a else a]
                length = math.dist(self.at[joint], there)
                for axis in range(self.dim):
                    part = (there[axis] - self.at[joint][axis]) / length
                    matrix[row * self.dim + axis, column] = part
            given[row * self.dim + self.dim - 1] = self.load[joint]
            if joint == "j0":
                p = self.efficiency
                hand = self.hanging / p if self.way == "raising" else self.hanging * p
                given[row * self.dim + self.dim - 1] += self.hanging + hand
        cost = np.zeros(len(names))
        found = linprog(cost, A_eq=matrix, b_eq=given, bounds=(0, None), method="highs")
        return dict(zip(names, found.x, strict=True)) if found.status == 0 else None


@pytest.mark.parametrize("block", range(10))
def test_random_rigs(block: int, read: Read) -> None:
    """Both solve the same rigs with the same tensions, and refuse the same ones."""
    held = refused = 0
    for seed in range(block * 40, block * 40 + 40):
        rig = Rig(seed)
        expected = rig.by_scipy()
        if expected is None:
            refused += 1
            with pytest.raises(PlanError):
                work_out(read(rig.text))
            continue
        found: Worked = work_out(read(rig.text))
        held += 1
        for name, tension in expected.items():
            assert tension == pytest.approx(found.forces.ropes[name], rel=1e-5, abs=1e-6), seed
    assert held > 10
    assert refused > 4


@pytest.mark.parametrize("seed", range(60))
def test_cautious_shares(seed: int) -> None:
    """The most a leg can take is SciPy's maximum under balance without pushing."""
    dice = np.random.default_rng(seed)
    dim = 2 + seed % 2
    legs = int(dice.integers(dim, 5))
    ways = dice.normal(size=(legs, dim))
    ways[:, -1] = np.abs(ways[:, -1]) + 0.3
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    pull = dice.uniform(0, 2, legs) @ ways
    found = most_of_each(ways, pull[None])[0]
    for leg in range(legs):
        cost = np.zeros(legs)
        cost[leg] = -1
        best = linprog(cost, A_eq=ways.T, b_eq=pull, bounds=(0, None), method="highs")
        assert best.status == 0
        assert -best.fun == pytest.approx(found[leg], rel=1e-6, abs=1e-8)
