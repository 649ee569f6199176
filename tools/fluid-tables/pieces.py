"""Chebyshev pieces: along a line (uniform pieces, f64), and over a patch tree (f32)."""
import numpy as np

ORDER_1D = 8     # coefficients per piece along a line
ORDER = 6        # coefficients per axis of a patch


def nodes(n):
    return np.cos(np.pi * (np.arange(n) + 0.5) / n)


def matrix(n):
    """Values at the nodes to Chebyshev coefficients."""
    k = np.arange(n)[:, None]
    m = np.cos(np.pi * k * (np.arange(n)[None, :] + 0.5) / n) * 2.0 / n
    m[0] /= 2.0
    return m


NODES_1D, MATRIX_1D = nodes(ORDER_1D), matrix(ORDER_1D)
NODES, MATRIX = nodes(ORDER), matrix(ORDER)


def basis(n, x):
    t = [1.0, x]
    for _ in range(n - 2):
        t.append(2.0 * x * t[-1] - t[-2])
    return np.array(t[:n])


class Line:
    """Quantities along one variable, uniform pieces."""

    def __init__(self, lo, hi, count, data):
        self.lo, self.hi, self.count, self.data = lo, hi, count, data  # data[piece][q][coef]

    def __call__(self, v):
        f = (v - self.lo) / (self.hi - self.lo) * self.count
        i = min(max(int(f), 0), self.count - 1)
        return self.data[i] @ basis(ORDER_1D, 2.0 * (f - i) - 1.0)


def fit_line(fun, lo, hi, tols, most=256, label=""):
    """Doubles the number of pieces until every quantity is within its tolerance between nodes."""
    count, best = 4, None
    while True:
        data, worst = [], np.zeros(len(tols))
        for i in range(count):
            a, b = lo + (hi - lo) * i / count, lo + (hi - lo) * (i + 1) / count
            vals = np.array([fun(0.5 * (a + b) + 0.5 * (b - a) * x) for x in NODES_1D])
            coefs = (MATRIX_1D @ vals).T
            data.append(coefs)
            for x in (-0.99, -0.55, 0.0, 0.4, 0.9):
                true = fun(0.5 * (a + b) + 0.5 * (b - a) * x)
                err = np.abs(coefs @ basis(ORDER_1D, x) - true)
                worst = np.maximum(worst, err)
        line = Line(lo, hi, count, np.array(data))
        ratio = (worst / tols).max()
        if best is None or ratio < 0.5 * best[0]:
            best = (ratio, line, worst)
        if ratio <= 1.0 or count >= most:
            print(f"    {label}: {best[1].count} pieces, worst {best[2]}", flush=True)
            return best[1]
        count *= 2


class Block:
    """A tree of patches over the unit square. Node: leaf index with the top bit set, else the
    index of the first of two children with the axis in bit 30."""

    LEAF, AXIS = 1 << 31, 1 << 30

    def __init__(self, kind, quantities):
        self.kind, self.quantities = kind, quantities
        self.tree, self.leaves, self.missed = [0], [], []

    def fit(self, fun, tolerance, deepest, most_leaves, hopeless):
        """`fun(u, v, guess)` gives the stored quantities (guess: the parent's values there or
        None); `tolerance(u, v, values)` the admissible error of each."""
        stack = [(0, (0.0, 1.0, 0.0, 1.0), (0, 0), None)]
        while stack:
            index, box, depth, parent = stack.pop(0)
            coefs, error, where, lean = self.patch(fun, tolerance, box, parent)
            over = len(self.leaves) + len(stack) + 2 > most_leaves
            corners = [(u, v) for u in box[:2] for v in box[2:]]
            if error > 1.0 and hopeless(corners):
                error = 0.0
            if error <= 1.0 or sum(depth) >= deepest or over:
                if error > 1.0:
                    self.missed.append((error, where))
                self.tree[index] = self.LEAF | len(self.leaves)
                self.leaves.append(coefs.astype(np.float32))
                continue
            first = len(self.tree)
            self.tree[index] = first | (self.AXIS if lean else 0)
            self.tree += [0, 0]
            u0, u1, v0, v1 = box
            if lean:
                m = 0.5 * (v0 + v1)
                boxes = [(u0, u1, v0, m), (u0, u1, m, v1)]
                deeper = (depth[0], depth[1] + 1)
            else:
                m = 0.5 * (u0 + u1)
                boxes = [(u0, m, v0, v1), (m, u1, v0, v1)]
                deeper = (depth[0] + 1, depth[1])
            for k, b in enumerate(boxes):
                stack.append((first + k, b, deeper, (coefs, box)))
        worst = max(self.missed, default=(0.0, None))
        print(f"    block {self.kind}: {len(self.leaves)} patches, {len(self.missed)} over "
              f"tolerance, worst x{worst[0]:.3g} at {worst[1]}", flush=True)

    def patch(self, fun, tolerance, box, parent):
        u0, u1, v0, v1 = box

        def value(x, y, exact=True):
            u, v = 0.5 * (u0 + u1) + 0.5 * (u1 - u0) * x, 0.5 * (v0 + v1) + 0.5 * (v1 - v0) * y
            return np.array(fun(u, v, self.guess(parent, u, v))), u, v

        grid = np.empty((self.quantities, ORDER, ORDER))  # [q][v][u]
        for i, x in enumerate(NODES):
            for j, y in enumerate(NODES):
                grid[:, j, i] = value(x, y)[0]
        coefs = np.einsum("ja,qab,ib->qji", MATRIX, grid, MATRIX)
        rounded = coefs.astype(np.float32).astype(float)
        worst, where = 0.0, None
        for x in (-1.0, -0.85, 0.0, 0.48, 1.0):
            for y in (-1.0, -0.85, 0.0, 0.48, 1.0):
                true, u, v = value(x, y)
                near = np.einsum("qji,j,i->q", rounded, basis(ORDER, y), basis(ORDER, x))
                tol = np.array(tolerance(u, v, true))
                ratio = (np.abs(near - true) / tol).max()
                if not ratio <= worst:
                    worst, where = ratio, (u, v)
        tol = np.array(tolerance(0.5 * (u0 + u1), 0.5 * (v0 + v1), grid[:, 2, 2]))[:, None]
        along_u = (np.abs(coefs[:, :, -2:]).sum(axis=1) / tol).max()
        along_v = (np.abs(coefs[:, -2:, :]).sum(axis=2) / tol).max()
        return coefs, worst, where, along_v > along_u

    @staticmethod
    def guess(parent, u, v):
        if parent is None:
            return None
        coefs, (u0, u1, v0, v1) = parent
        x, y = (2 * u - u0 - u1) / (u1 - u0), (2 * v - v0 - v1) / (v1 - v0)
        return np.einsum("qji,j,i->q", coefs, basis(ORDER, y), basis(ORDER, x))
