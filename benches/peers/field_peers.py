"""One source to the full field in Python's general-purpose libraries.

Pinned: Python 3.11, numpy 2.4.6, scipy 1.17.1, scikit-image 0.26.0. Run in a virtual environment:

    python3 -m venv VENV
    VENV/bin/pip install numpy==2.4.6 scipy==1.17.1 scikit-image==0.26.0
    VENV/bin/python benches/peers/field_peers.py

The fields are those of benches/search_field.rs in kind, not in number: pace uniform from 1 to 10, a
tenth of the cells closed, the source in the middle, three seeds. Both libraries charge a move with the
mean of its ends times its length, as the search does; they cut corners, which the search does not.
The two must agree before either is timed.
"""

import time

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra
from skimage.graph import MCP_Geometric


def field(side: int, seed: int) -> np.ndarray:
    random = np.random.default_rng(seed)
    cost = random.uniform(1.0, 10.0, (side, side))
    cost[random.uniform(size=(side, side)) < 0.1] = np.inf
    cost[side // 2, side // 2] = 1.0
    return cost


def graph(cost: np.ndarray) -> csr_matrix:
    side = cost.shape[0]
    index = np.arange(side * side).reshape(side, side)
    rows, columns, weights = [], [], []
    for up, right in [(0, 1), (1, 0), (1, 1), (1, -1)]:
        here = (slice(0, side - up), slice(max(0, -right), side - max(0, right)))
        there = (slice(up, side), slice(max(0, right), side - max(0, -right)))
        weight = (cost[here] + cost[there]) / 2.0 * np.hypot(up, right)
        open_ = np.isfinite(weight)
        for a, b in [(here, there), (there, here)]:
            rows.append(index[a][open_])
            columns.append(index[b][open_])
            weights.append(weight[open_])
    ends = (np.concatenate(rows), np.concatenate(columns))
    return csr_matrix((np.concatenate(weights), ends), shape=(side * side,) * 2)


def best_of(count: int, call):
    times = []
    for _ in range(count):
        begun = time.process_time()
        value = call()
        times.append(time.process_time() - begun)
    return min(times), value


def main() -> None:
    for side, seed in [(1000, 11), (1000, 12), (1000, 13), (2000, 14), (4000, 15)]:
        cost = field(side, seed)
        source = (side // 2, side // 2)
        build, edges = best_of(1, lambda: graph(cost))
        solve, far = best_of(3, lambda: dijkstra(edges, indices=source[0] * side + source[1]))
        blocked = np.where(np.isfinite(cost), cost, -1.0)
        image, (costs, _) = best_of(3, lambda: MCP_Geometric(blocked).find_costs([source]))
        reached = np.isfinite(far)
        assert (reached == np.isfinite(costs.ravel())).all()
        assert np.allclose(far[reached], costs.ravel()[reached], rtol=1e-9)
        cells = side * side
        print(
            f"{side}^2 seed {seed}: scipy solve {solve / cells * 1e9:.0f} ns a cell"
            f" (build {build / cells * 1e9:.0f}),"
            f" scikit-image {image / cells * 1e9:.0f} ns a cell"
        )


if __name__ == "__main__":
    main()
