"""Rests of a thousand random rigs by a general-purpose optimiser, as a reference for loadwalk.

Writes hang_reference.csv beside itself. Needs scipy and numpy (made with scipy 1.17.1):

    python3 hang_reference.py

The problem is put differently from loadwalk's: the unknowns are the load's position and rotation
(six numbers) and one stretch for each leg, and SLSQP lowers the energy

    m g z + sum of k s^2 / 2    with    s >= 0 and |apex - provision| <= L + s

so that slack needs no special case. loadwalk finds the apex in the load's own axes instead. A rig is
kept when the forces and moments of the answer balance to 1e-6 of the weight, the load is steady
against small turns, and it rests under 60 degrees of tilt.
"""

import csv
import pathlib

import numpy as np
from scipy.optimize import minimize
from scipy.spatial.transform import Rotation

SEED = 20260117
RIGS = 1000
G = 9.80665
BALANCE = 1e-6


def random_rig(rng):
    n = int(rng.integers(2, 7))
    half = rng.uniform([0.8, 0.4], [3.5, 1.6])
    if n == 2:
        sides = np.array([[1, 0], [-1, 0]])
    elif n == 3:
        sides = np.array([[1, 0], [-1, 1], [-1, -1]])
    elif n == 4:
        sides = np.array([[1, 1], [1, -1], [-1, 1], [-1, -1]])
    elif n == 5:
        sides = np.array([[1, 1], [1, -1], [-1, 1], [-1, -1], [-1.3, 0]])
    else:
        sides = np.array([[1, 1], [1, -1], [0, 1.1], [0, -1.1], [-1, 1], [-1, -1]])
    points = np.zeros((n, 3))
    points[:, :2] = sides * half + rng.normal(0, 0.08, (n, 2)) * half
    points[:, 2] = rng.normal(1.2, 0.15, n)
    cg = points.mean(axis=0) + np.append(rng.normal(0, 0.12, 2) * half, rng.uniform(-1.2, 0.1))
    reach = np.linalg.norm(points[:, :2] - points[:, :2].mean(axis=0), axis=1).max()
    lengths = reach * rng.uniform(1.25, 2.4) * (1 + rng.normal(0, 0.02, n))
    if rng.random() < 0.3:
        lengths[rng.integers(n)] *= rng.uniform(1.02, 1.12)
    mass = rng.uniform(200, 6000)
    rating = np.full(n, rng.uniform(0.4, 1.2) * mass)
    stretch = np.full(n, rng.uniform(0.004, 0.05))
    if rng.random() < 0.3:
        stretch = rng.uniform(0.004, 0.05, n)
    return (
        round(mass, 1),
        cg.round(3),
        points.round(3),
        lengths.round(3),
        rating.round(0),
        stretch.round(4),
    )


def solve(mass, cg, points, lengths, rating, stretch):
    n = len(lengths)
    stiffness = rating * G / (stretch * lengths)
    weight = mass * G
    far = lengths.mean()

    def provisions(v):
        """Provisions in the hook's axes; the apex is the origin."""
        return v[:3] * far + Rotation.from_rotvec(v[3:6]).apply(points - cg)

    def energy(v):
        return v[2] + 0.5 * np.sum(stiffness * far * v[6:] ** 2) / weight

    def room(v):
        return (lengths + v[6:] * far - np.linalg.norm(provisions(v), axis=1)) / far

    start = np.zeros(6 + n)
    start[2] = -(far * 0.9 - (cg - points.mean(axis=0))[2]) / far
    start[6:] = 0.02
    for _ in range(4):
        v = minimize(
            energy,
            start,
            method="SLSQP",
            bounds=[(None, None)] * 6 + [(0, None)] * n,
            constraints=[{"type": "ineq", "fun": room}],
            options={"ftol": 1e-15, "maxiter": 1000},
        ).x
        at = provisions(v)
        runs = np.linalg.norm(at, axis=1)
        tension = stiffness * np.maximum(runs - lengths, 0)
        pulls = -at / runs[:, None] * tension[:, None]
        force = pulls.sum(axis=0) - [0, 0, weight]
        arm = at - v[:3] * far
        moment = np.cross(arm, pulls).sum(axis=0)
        off = max(np.linalg.norm(force), np.linalg.norm(moment) / far) / weight
        if off < BALANCE:
            break
        start = v
    turn = Rotation.from_rotvec(v[3:6])
    up = turn.inv().apply([0, 0, 1])
    tilt = np.degrees(np.arctan2(np.hypot(up[0], up[1]), up[2]))
    apex = turn.inv().apply(-v[:3] * far) + cg
    return off, tilt, apex, tension


def steady(mass, cg, points, lengths, rating, stretch, apex):
    """Whether every small push of the apex raises the energy."""
    stiffness = rating * G / (stretch * lengths)

    def energy(p):
        s = np.maximum(np.linalg.norm(p - points, axis=1) - lengths, 0)
        return 0.5 * np.sum(stiffness * s * s) - mass * G * np.linalg.norm(p - cg)

    rng = np.random.default_rng(1)
    here = energy(apex)
    push = rng.normal(0, 1, (40, 3))
    push *= 0.01 / np.linalg.norm(push, axis=1)[:, None]
    return all(energy(apex + d) > here + 1e-9 * mass * G for d in push)


def main():
    rng = np.random.default_rng(SEED)
    rows = []
    tried = 0
    while len(rows) < RIGS:
        tried += 1
        rig = random_rig(rng)
        off, tilt, apex, tension = solve(*rig)
        if off > BALANCE or tilt > 60 or not steady(*rig, apex):
            continue
        mass, cg, points, lengths, rating, stretch = rig
        row = [len(lengths), mass, *cg, f"{tilt:.5f}", *(f"{x:.6f}" for x in apex)]
        for i in range(len(lengths)):
            row += [*points[i], lengths[i], rating[i], stretch[i], f"{tension[i]:.2f}"]
        rows.append(row)
    path = pathlib.Path(__file__).with_name("hang_reference.csv")
    with path.open("w", newline="") as file:
        file.write(f"# seed {SEED}, {tried} rigs tried, {RIGS} kept; SI: kg, m, degrees, N\n")
        file.write("# legs,mass,cg x y z,tilt,apex x y z, then for each leg:")
        file.write(" x,y,z,length,rating,stretch at rating,tension\n")
        csv.writer(file, lineterminator="\n").writerows(rows)
    print(f"{tried} tried, {RIGS} kept")


if __name__ == "__main__":
    main()
