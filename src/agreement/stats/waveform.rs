//! Coefficient of multiple correlation of two curves of one swing.
//!
//! CMC = √(1 − [Σ_p Σ_f (y_pf − ȳ_f)² / (F (P − 1))] / [Σ_p Σ_f (y_pf − ȳ)² / (P F − 1)]) with
//! P = 2 curves and F instants (Kadaba et al. 1989, J Orthop Res 7:849–860, as used between
//! methods by Ferrari et al. 2010, Gait & Posture 31:540–542). 1: the curves coincide. It falls
//! with an offset between them and is undefined where they agree less than chance.

/// `None` for fewer than three instants or where the expression is not a real number.
pub fn cmc(pairs: &[(f64, f64)]) -> Option<f64> {
    if pairs.len() < 3 {
        return None;
    }
    let f = pairs.len() as f64;
    let grand = pairs.iter().map(|(a, b)| a + b).sum::<f64>() / (2.0 * f);
    let mut within = 0.0;
    let mut total = 0.0;
    for (a, b) in pairs {
        let m = (a + b) / 2.0;
        within += (a - m).powi(2) + (b - m).powi(2);
        total += (a - grand).powi(2) + (b - grand).powi(2);
    }
    if total <= 0.0 {
        return None;
    }
    let ratio = (within / f) / (total / (2.0 * f - 1.0));
    (ratio <= 1.0).then(|| (1.0 - ratio).sqrt())
}
