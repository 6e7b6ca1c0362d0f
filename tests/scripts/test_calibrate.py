"""The statistics of tests/bench/calibrate.py against published values."""
import importlib.util
import math
import random
import sys
import unittest
from pathlib import Path

path = Path(__file__).parents[1] / "bench" / "calibrate.py"
sys.path.insert(0, str(path.parent))
spec = importlib.util.spec_from_file_location("calibrate", path)
calibrate = importlib.util.module_from_spec(spec)
spec.loader.exec_module(calibrate)


class Statistics(unittest.TestCase):
    def test_clopper_pearson_matches_the_rule_of_three_and_a_textbook_case(self):
        # None of n: the upper limit is 1 - 0.025^(1/n), exactly.
        low, high = calibrate.clopper_pearson(0, 30)
        self.assertEqual(low, 0.0)
        self.assertAlmostEqual(high, 1 - 0.025 ** (1 / 30), places=6)
        # 10 of 10: by symmetry.
        low, high = calibrate.clopper_pearson(10, 10)
        self.assertAlmostEqual(low, 0.025 ** (1 / 10), places=6)
        self.assertEqual(high, 1.0)

    def test_conformal_factors_cover_new_scores(self):
        draw = random.Random(3)
        covered = total = 0
        for _ in range(300):
            factor = calibrate.conformal([abs(draw.gauss(0, 1)) for _ in range(99)])
            covered += sum(abs(draw.gauss(0, 1)) <= factor for _ in range(20))
            total += 20
        self.assertGreater(covered / total, 0.93)
        self.assertLess(covered / total, 0.97)

    def test_factors_are_wider_where_bodies_differ(self):
        draw = random.Random(5)
        alike = {str(b): [abs(draw.gauss(0, 1)) for _ in range(40)] for b in range(14)}
        of_all = calibrate.conformal([v for values in alike.values() for v in values])
        self.assertEqual(calibrate.factor({"one": alike["0"]}), calibrate.conformal(alike["0"]))
        self.assertGreaterEqual(calibrate.factor(alike), of_all)
        self.assertLess(calibrate.factor(alike), 1.2 * of_all)
        apart = {b: [v * (3.0 if b == "0" else 1.0) for v in values] for b, values in alike.items()}
        self.assertGreater(calibrate.factor(apart), 1.2 * calibrate.conformal([v for x in apart.values() for v in x]))

    def test_a_learnt_score_finds_what_scores_depend_on(self):
        draw = random.Random(9)
        data = []
        for i in range(2000):
            apart, turn = draw.uniform(0, 3), draw.uniform(0, 1)
            score = abs(draw.gauss(0, 1)) * 2.718281828 ** (0.4 * apart) / calibrate.Z95
            data.append(calibrate.Row("two", "thorax_turn", "top", str(i % 20), score, 10.0, {"apart": apart, "turn": turn}))
        terms = calibrate.learn_score(data)
        self.assertAlmostEqual(terms["apart"][0], 0.4, delta=0.12)
        self.assertAlmostEqual(terms["turn"][0], 0.0, delta=0.12)
        low = calibrate.score_factor(terms, {"apart": 0.2, "turn": 0.5})
        self.assertGreater(calibrate.score_factor(terms, {"apart": 2.8, "turn": 0.5}) / low, 2.0)

    def test_spreads_are_told_from_the_scatter_of_their_estimates(self):
        draw = random.Random(4)
        lines = []
        for _ in range(400):
            offset, slope = draw.gauss(0, 0.8), draw.gauss(0.3, 0.5)
            points = [(x / 20, offset + slope * x / 20 + draw.gauss(0, 0.4), x / 20) for x in range(-20, 40)]
            lines.append(calibrate.line(points))
        own = sum(f[2] * f[4] for f in lines) / len(lines)
        spread = calibrate.spread_of([f[1] for f in lines], own)
        # About nought: what lasts on average counts as spread.
        self.assertAlmostEqual(spread, math.hypot(0.3, 0.5), delta=0.06)

    def test_wrap(self):
        self.assertEqual(calibrate.wrap(359.0), -1.0)


if __name__ == "__main__":
    unittest.main()
