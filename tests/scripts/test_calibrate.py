"""The statistics of calibration (tests/bench) against published values."""
import contextlib
import io
import math
import random
import sys
import tomllib
import unittest
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "bench"))

import calibrate
import score
import spreads
from truth import clopper_pearson, wrap


class Statistics(unittest.TestCase):
    def test_clopper_pearson_matches_the_rule_of_three_and_a_textbook_case(self):
        # None of n: the upper limit is 1 - 0.025^(1/n), exactly.
        low, high = clopper_pearson(0, 30)
        self.assertEqual(low, 0.0)
        self.assertAlmostEqual(high, 1 - 0.025 ** (1 / 30), places=6)
        # 10 of 10: by symmetry.
        low, high = clopper_pearson(10, 10)
        self.assertAlmostEqual(low, 0.025 ** (1 / 10), places=6)
        self.assertEqual(high, 1.0)

    def test_conformal_factors_cover_new_scores(self):
        draw = random.Random(3)
        covered = total = 0
        for _ in range(300):
            factor = score.conformal([abs(draw.gauss(0, 1)) for _ in range(99)])
            covered += sum(abs(draw.gauss(0, 1)) <= factor for _ in range(20))
            total += 20
        self.assertGreater(covered / total, 0.93)
        self.assertLess(covered / total, 0.97)

    def test_factors_are_wider_where_bodies_differ(self):
        draw = random.Random(5)
        alike = {str(b): [abs(draw.gauss(0, 1)) for _ in range(40)] for b in range(14)}
        of_all = score.conformal([v for values in alike.values() for v in values])
        self.assertEqual(score.factor({"one": alike["0"]}), score.conformal(alike["0"]))
        self.assertGreaterEqual(score.factor(alike), of_all)
        self.assertLess(score.factor(alike), 1.2 * of_all)
        apart = {b: [v * (3.0 if b == "0" else 1.0) for v in values] for b, values in alike.items()}
        self.assertGreater(score.factor(apart), 1.2 * score.conformal([v for x in apart.values() for v in x]))

    def test_a_learnt_score_finds_what_scores_depend_on(self):
        draw = random.Random(9)
        scores, evidence = [], []
        for _ in range(4500):
            apart, turn, sigma = draw.uniform(0, 3), draw.uniform(0, 1), draw.gauss(1, 0.5)
            # only the upper half of `apart` counts, and the spread says twice as much as is so
            size = math.exp(0.6 * max(apart - 1.5, 0) - 0.5 * sigma)
            scores.append(abs(draw.gauss(0, 1)) * size / score.Z95)
            evidence.append({"apart": apart, "turn": turn, "sigma": sigma})
        terms = score.learn_score(scores, evidence)
        slope = {f: [w for name, w, low, high in terms if name == f and high > low] for f in ("apart", "turn", "sigma")}
        self.assertAlmostEqual(slope["apart"][0], 0.0, delta=0.12)
        self.assertAlmostEqual(slope["apart"][1], 0.6, delta=0.15)
        for w in slope["sigma"]:
            self.assertAlmostEqual(w, -0.5, delta=0.15)
        for w in slope["turn"]:
            self.assertAlmostEqual(w, 0.0, delta=0.25)
        low = score.score_factor(terms, {"apart": 0.2, "turn": 0.5, "sigma": 1.0})
        self.assertGreater(score.score_factor(terms, {"apart": 2.8, "turn": 0.5, "sigma": 1.0}) / low, 1.7)

    def test_measures_that_are_learnt_together_share_a_factor_and_the_top_has_its_own(self):
        draw = random.Random(2)
        def scored(event, size):
            return [("two", m, event, str(i), size * abs(draw.gauss(0, 1))) for i in range(200)
                    for m in ("pelvis_turn_from_address", "thorax_turn_from_address")]
        def factors(table, *parts, **kept):
            out = io.StringIO()
            with contextlib.redirect_stdout(out):
                calibrate.scales(table, [s for part in parts for s in part], **kept)
            return {(f["measure"], f.get("event", "")): f["scale"] for f in tomllib.loads(out.getvalue())[table]}
        told = factors("factors", scored("top", 2.0), scored("impact", 1.0))
        pelvis, thorax = "pelvis_turn_from_address", "thorax_turn_from_address"
        self.assertEqual(told[pelvis, "top"], told[thorax, "top"])
        self.assertEqual(told[pelvis, ""], told[thorax, ""])
        self.assertAlmostEqual(told[pelvis, "top"] / (2 * score.Z95), 1.0, delta=0.25)
        self.assertLess(told[pelvis, ""], told[pelvis, "top"])
        self.assertGreater(told[pelvis, ""], score.Z95)
        self.assertEqual(factors("differences", scored("top", 2.0), most=1.0)[pelvis, "top"], 1.0)

    def test_spreads_are_told_from_the_scatter_of_their_estimates(self):
        draw = random.Random(4)
        lines = []
        for _ in range(400):
            offset, slope = draw.gauss(0, 0.8), draw.gauss(0.3, 0.5)
            points = [(x / 20, offset + slope * x / 20 + draw.gauss(0, 0.4), x / 20) for x in range(-20, 40)]
            lines.append(spreads.line(points))
        own = sum(f[2] * f[4] for f in lines) / len(lines)
        spread = spreads.spread_of([f[1] for f in lines], own)
        # About nought: what lasts on average counts as spread.
        self.assertAlmostEqual(spread, math.hypot(0.3, 0.5), delta=0.06)

    def test_wrap(self):
        self.assertEqual(wrap(359.0), -1.0)


if __name__ == "__main__":
    unittest.main()
