#!/usr/bin/env python3
"""Reference values for the statistics of sets: tests/reference/sets.json.

usage: sets_reference.py > sets.json      needs scipy 1.17.0, statsmodels 0.15.0

- NIST/SEMATECH e-Handbook of Statistical Methods, 7.4.3.3 (one-way analysis of variance of three treatments of five): the data; its table
  is in the test. statsmodels' mixed model with a random intercept for each treatment gives the parts of the variance and the
  standard error of the mean.
- scipy's Welch interval of a difference of means and interval of a mean by Student's t.
- BCG vaccine trials (Colditz et al. 1994, JAMA 271:698), as 2 x 2 tables: log relative risks and their variances; statsmodels'
  iterated Paule-Mandel estimate. The interval of Viechtbauer 2007 that the R package metafor publishes for them is in the test.
"""
import json

import numpy as np
import pandas as pd
from scipy import stats
from statsmodels.formula.api import mixedlm, ols
from statsmodels.stats.anova import anova_lm
from statsmodels.stats.meta_analysis import combine_effects

HANDBOOK = [[6.9, 5.4, 5.8, 4.6, 4.0], [8.3, 6.8, 7.8, 9.2, 6.5], [8.0, 10.5, 8.1, 6.9, 9.3]]
BCG = [(4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619), (33, 5036, 47, 5761), (180, 1361, 372, 1079),
       (8, 2537, 10, 619), (505, 87886, 499, 87892), (29, 7470, 45, 7232), (17, 1699, 65, 1600), (186, 50448, 141, 27197), (5, 2493, 3, 2338),
       (27, 16886, 29, 17825)]

frame = pd.DataFrame([{"y": y, "set": str(i)} for i, row in enumerate(HANDBOOK) for y in row])
mixed = mixedlm("y ~ 1", frame, groups=frame["set"]).fit(reml=True)
one_way = anova_lm(ols("y ~ set", frame).fit())
welch = stats.ttest_ind(HANDBOOK[1], HANDBOOK[0], equal_var=False)
interval = welch.confidence_interval(0.95)
t = stats.t.interval(0.95, 4, loc=np.mean(HANDBOOK[0]), scale=stats.sem(HANDBOOK[0]))

effects = [np.log((a / (a + b)) / (c / (c + d))) for a, b, c, d in BCG]
variances = [1 / a - 1 / (a + b) + 1 / c - 1 / (c + d) for a, b, c, d in BCG]
iterated = combine_effects(np.array(effects), np.array(variances), method_re="iterated", atol=1e-12)

print(json.dumps({
    "made_with": "scipy 1.17.0, statsmodels 0.15.0",
    "handbook": HANDBOOK,
    "one_way": {"between": one_way["mean_sq"]["set"], "within": one_way["mean_sq"]["Residual"], "f": one_way["F"]["set"]},
    "mixed": {"between": float(mixed.cov_re.iloc[0, 0]), "within": float(mixed.scale), "mean": float(mixed.fe_params.iloc[0]),
              "standard_error": float(mixed.bse_fe.iloc[0])},
    "welch": {"difference": float(np.mean(HANDBOOK[1]) - np.mean(HANDBOOK[0])), "low": interval.low, "high": interval.high},
    "student": {"mean": float(np.mean(HANDBOOK[0])), "low": t[0], "high": t[1]},
    "bcg": {"effects": effects, "variances": variances, "paule_mandel": float(iterated.tau2)},
    "spread": {"chi_square_0.975": [float(stats.chi2.ppf(0.975, k)) for k in range(1, 10)],
               "chi_square_0.025": [float(stats.chi2.ppf(0.025, k)) for k in range(1, 10)]},
}, indent=1))
