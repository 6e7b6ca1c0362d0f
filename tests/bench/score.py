"""The learnt score and the conformal factors. Standard library only.

A score is the logarithm of what a propagated standard deviation must be multiplied by: a gamma regression of squared errors in standard
deviations on the evidence, with a logarithmic link and a ridge; given enough scores each feature's
effect may bend once, at its median.
Factors are split conformal prediction (Lei et al. 2018, doi 10.1080/01621459.2017.1307116): the ceil((n + 1) 0.95)-th of the ranked
scores. Swings of one body err alike: whole bodies are drawn anew with replacement, and the factor is the one that suffices in nine of
ten draws, as a tolerance limit.
"""
from __future__ import annotations

import math
import random
import statistics

Z95 = 1.959964
LEVEL = 0.95
CONFIDENCE = 0.90     # usual for tolerance limits; fixed before any factor was looked at
DRAWS, SEED = 400, 1
RIDGE = 60.0          # as if sixty more scores, those of some ten swings, spoke against each term
BENDING = 4000        # scores from which on effects may bend
MOST_SIGMAS = 4.0     # one wild reading is no law
STEPS, SMALL = 15, 1e-4

Term = tuple[str, float, float, float]    # feature, weight, low, high


def solve(a: list[list[float]], b: list[float]) -> list[float]:
    """Gauss's elimination with pivots."""
    n = len(b)
    m = [row[:] + [v] for row, v in zip(a, b)]
    for i in range(n):
        p = max(range(i, n), key=lambda r: abs(m[r][i]))
        m[i], m[p] = m[p], m[i]
        for r in range(i + 1, n):
            f = m[r][i] / m[i][i]
            for c in range(i, n + 1):
                m[r][c] -= f * m[i][c]
    x = [0.0] * n
    for i in reversed(range(n)):
        x[i] = (m[i][n] - sum(m[i][c] * x[c] for c in range(i + 1, n))) / m[i][i]
    return x


def pieces(evidence: list[dict[str, float]]) -> list[tuple[str, float, float]]:
    """Features that vary, with enough scores each below and above its median; what lies beyond 2 and 98 % counts as that."""
    out = []
    for f in evidence[0]:
        values = sorted(e[f] for e in evidence)
        low, middle, high = (values[int(p * (len(values) - 1))] for p in (0.02, 0.5, 0.98))
        if len({round(v, 4) for v in values}) <= 5 or high - low < 1e-6:
            continue
        if len(evidence) < BENDING or min(middle - low, high - middle) < 0.1 * (high - low):
            out.append((f, low, high))
        else:
            out += [(f, low, middle), (f, middle, high)]
    return out


def learn_score(scores: list[float], evidence: list[dict[str, float]]) -> list[Term]:
    """Terms of the logarithm of the factor on a standard deviation; `scores` are errors in half-widths of 95 %."""
    parts = pieces(evidence)
    columns = []
    for e in evidence:
        columns.append([1.0] + [(min(max(e[f], low), high) - (low + high) / 2) / ((high - low) / 2) for f, low, high in parts])
    squares = [min(s * Z95, MOST_SIGMAS) ** 2 for s in scores]
    n = len(parts) + 1
    beta = [math.log(max(statistics.fmean(squares), 1e-6))] + [0.0] * (n - 1)
    a = [[(RIDGE if i == j and i else 0.0) for j in range(n)] for i in range(n)]
    for x in columns:
        for i, v in enumerate(x):
            row = a[i]
            for j in range(i, n):
                row[j] += v * x[j]
    for i in range(n):
        for j in range(i):
            a[i][j] = a[j][i]
    for _ in range(STEPS):
        g = [-(RIDGE * beta[i] if i else 0.0) for i in range(n)]
        for x, s in zip(columns, squares):
            pull = s / math.exp(sum(map(float.__mul__, beta, x))) - 1
            for i, v in enumerate(x):
                g[i] += v * pull
        step = solve(a, g)
        size = max(map(abs, step))
        beta = [b + s * min(1.0, 0.7 / size if size else 1.0) for b, s in zip(beta, step)]
        if size < SMALL:
            break
    terms = [(f, b / 2 / ((high - low) / 2), low, high) for (f, low, high), b in zip(parts, beta[1:])]
    # and a constant, so that the usual factor is 1
    usual = statistics.fmean(math.log(score_factor(terms, e)) for e in evidence)
    return [*terms, (parts[0][0], -usual, 1.0, 1.0)] if parts else []


def score_factor(terms: list[Term], evidence: dict[str, float]) -> float:
    """What the terms multiply a standard deviation by."""
    return math.exp(sum(w * min(max(evidence[f], low), high) for f, w, low, high in terms))


def conformal(values: list[float]) -> float:
    """The factor by which 95 % of new values are held."""
    ranked = sorted(values)
    k = min(math.ceil((len(ranked) + 1) * LEVEL), len(ranked))
    return ranked[k - 1]


def factor(by_body: dict[str, list[float]]) -> float:
    """The quantile that suffices in CONFIDENCE of the draws of as many bodies, with replacement."""
    bodies, rng = sorted(by_body), random.Random(SEED)
    drawn = ([v for b in rng.choices(bodies, k=len(bodies)) for v in by_body[b]] for _ in range(DRAWS))
    return sorted(conformal(values) for values in drawn)[math.ceil(CONFIDENCE * DRAWS) - 1]
