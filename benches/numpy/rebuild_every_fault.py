"""The obvious alternative: every fault rebuilt and solved from its list of branches, with numpy.

Reads a dump of a board (`cargo bench --bench numpy -- dump=FILE`), and for every board in it — one
per fault and value — puts the matrix together, solves it by Newton's method from the healthy
voltages, and sums the squared distance to the readings. Prints one line of JSON: the seconds that
took, without reading the dump, the boards, those that did not settle, and the fault that fits best.

The dump is generous: branches stand there ready, and only volts with power on are asked for.

Run by hand, in an environment that has numpy:

    python3 -m venv /tmp/bench-numpy && /tmp/bench-numpy/bin/pip install numpy
    cargo bench --bench numpy -- python=/tmp/bench-numpy/bin/python
"""

import json
import sys
import time

import numpy as np

# Newton's method: steps at most, the longest step of a net, and what counts as standing still.
STEPS, LONGEST, STILL = 100, 2.0, 1e-7
# A conductance from every net to ground, so that nothing floats, in siemens.
LEAK = 1e-12


def solve(board, curves, nets, start):
    """Volts of all nets; None where nothing settles."""
    elements = board["elements"]
    own = sum(1 for element in elements if element[2] == "volts")
    nets = max([nets] + [1 + max(element[0], element[1]) for element in elements])
    volts = np.zeros(nets)
    volts[: len(start)] = start
    size = nets - 1 + own
    for _ in range(STEPS):
        matrix = np.zeros((size, size))
        right = np.zeros(size)
        row = nets - 1
        for element in elements:
            a, b, kind = element[0] - 1, element[1] - 1, element[2]
            if kind == "volts":
                for net, sign in ((a, 1.0), (b, -1.0)):
                    if net >= 0:
                        matrix[row, net] += sign
                        matrix[net, row] += sign
                right[row] = element[3]
                row += 1
                continue
            if kind == "line":
                slope, amps = element[3], element[4]
            else:
                points, currents, slopes = curves[element[3]]
                across = volts[a + 1] - volts[b + 1]
                at = int(np.clip(np.searchsorted(points, across) - 1, 0, len(slopes) - 1))
                slope = slopes[at]
                amps = currents[at] - slope * points[at]
            if a >= 0:
                matrix[a, a] += slope
                right[a] -= amps
            if b >= 0:
                matrix[b, b] += slope
                right[b] += amps
            if a >= 0 and b >= 0:
                matrix[a, b] -= slope
                matrix[b, a] -= slope
        matrix[np.arange(nets - 1), np.arange(nets - 1)] += LEAK
        try:
            new = np.linalg.solve(matrix, right)[: nets - 1]
        except np.linalg.LinAlgError:
            return None
        step = new - volts[1:]
        volts[1:] += np.clip(step, -LONGEST, LONGEST)
        if np.max(np.abs(step)) < STILL:
            return volts
    return None


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        dump = json.load(file)
    curves = []
    for curve in dump["curves"]:
        points, currents = np.array(curve["volts"]), np.array(curve["amps"])
        curves.append((points, currents, np.diff(currents) / np.diff(points)))
    readings = dump["readings"]
    start = time.perf_counter()
    best, unsettled = (np.inf, ""), 0
    for board in dump["boards"]:
        volts = solve(board, curves, dump["nets"], dump["healthy"])
        if volts is None:
            unsettled += 1
            continue
        chi_square = sum(
            ((r["volts"] - volts[r["red"]] + volts[r["black"]]) / r["standard"]) ** 2
            for r in readings
        )
        best = min(best, (chi_square, board["name"]))
    seconds = time.perf_counter() - start
    result = {
        "seconds": seconds,
        "boards": len(dump["boards"]),
        "unsettled": unsettled,
        "best": best[1],
        "chi_square": best[0],
    }
    print(json.dumps(result))


if __name__ == "__main__":
    main()
