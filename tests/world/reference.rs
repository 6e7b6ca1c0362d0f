//! The stored cases.

use nalgebra::{Matrix3, Vector2, Vector3};
use serde_json::Value;

fn parse(text: &str) -> Value {
    serde_json::from_str(text).expect("a stored case is JSON")
}

pub fn geometry() -> Value {
    parse(include_str!("../reference/geometry.json"))
}

pub fn smoothing() -> Value {
    parse(include_str!("../reference/smoothing.json"))
}

pub fn landmarks() -> Value {
    parse(include_str!("../reference/landmarks.json"))
}

/// Exact truth of a rendered sample swing.
pub fn sixth_lesson() -> Value {
    parse(include_str!("../../sample-clips/sixth-lesson_truth.json"))
}

pub fn list(v: &Value) -> &Vec<Value> {
    v.as_array().expect("a list")
}

pub fn number(v: &Value) -> f64 {
    v.as_f64().expect("a number")
}

pub fn numbers(v: &Value) -> Vec<f64> {
    list(v).iter().map(number).collect()
}

pub fn vector2(v: &Value) -> Vector2<f64> {
    Vector2::from_vec(numbers(v))
}

pub fn vector3(v: &Value) -> Vector3<f64> {
    Vector3::from_vec(numbers(v))
}

pub fn matrix3(v: &Value) -> Matrix3<f64> {
    let rows: Vec<f64> = list(v).iter().flat_map(numbers).collect();
    Matrix3::from_row_slice(&rows)
}

/// The sample of a truth file nearest to `t`, seconds.
pub fn sample_at(truth: &Value, t: f64) -> &Value {
    list(&truth["samples"])
        .iter()
        .min_by(|a, b| {
            let away = |s: &Value| (number(&s["t"]) - t).abs();
            away(a).total_cmp(&away(b))
        })
        .expect("samples")
}
