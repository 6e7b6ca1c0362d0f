//! The parameter section: groups of named values.

use super::number::{Processor, at};

/// What a parameter holds.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Strings, trimmed; a single string is a list of one.
    Text(Vec<String>),
    /// 8-bit numbers.
    Bytes(Vec<u8>),
    /// 16-bit numbers, with sign.
    Integers(Vec<i16>),
    /// 32-bit floating-point numbers.
    Floats(Vec<f32>),
}

impl Value {
    /// The first number, integers read without sign.
    pub fn first(&self) -> Option<f64> {
        match self {
            Self::Text(_) => None,
            Self::Bytes(b) => b.first().map(|v| f64::from(*v)),
            #[allow(clippy::cast_sign_loss)]
            Self::Integers(i) => i.first().map(|v| f64::from(*v as u16)),
            Self::Floats(f) => f.first().map(|v| f64::from(*v)),
        }
    }

    /// The strings, or none where it holds numbers.
    pub fn texts(&self) -> &[String] {
        match self {
            Self::Text(t) => t,
            _ => &[],
        }
    }

    /// The floating-point numbers, or none where it holds anything else.
    pub fn floats(&self) -> &[f32] {
        match self {
            Self::Floats(f) => f,
            _ => &[],
        }
    }
}

/// Parameters that belong together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Group {
    /// The number by which parameters name their group.
    pub id: i8,
    /// Its name in capitals, such as POINT.
    pub name: String,
    /// Names and values, in the file's order.
    pub parameters: Vec<(String, Value)>,
}

pub fn find<'a>(groups: &'a [Group], group: &str, name: &str) -> Option<&'a Value> {
    groups
        .iter()
        .filter(|g| g.name.eq_ignore_ascii_case(group))
        .flat_map(|g| &g.parameters)
        .find(|(n, _)| n.eq_ignore_ascii_case(name))
        .map(|(_, v)| v)
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes)
        .trim_matches(|c: char| c == '\0' || c.is_whitespace())
        .to_owned()
}

/// Parses the section, which begins with its four header bytes. Stops at the first record that
/// makes no sense: what came before it is kept, and the reader judges whether that is enough.
pub fn parse(section: &[u8], processor: Processor) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    let mut offset = 4_usize;
    while let Some([length, id]) = at::<2>(section, offset) {
        let (length, id) = (usize::from((length as i8).unsigned_abs()), id as i8);
        if length == 0 || id == 0 {
            break;
        }
        let Some(name) = section.get(offset + 2..offset + 2 + length) else {
            break;
        };
        let pointer = offset + 2 + length;
        let Some(next) = at::<2>(section, pointer).map(|b| processor.u16(b)) else {
            break;
        };
        let name = text(name);
        let Some(group) = entry(&mut groups, id.saturating_abs()) else {
            break;
        };
        if id < 0 {
            group.name = name;
        } else if let Some(value) = section
            .get(pointer + 2..)
            .and_then(|body| value(body, processor))
        {
            group.parameters.push((name, value));
        }
        if next == 0 {
            break;
        }
        offset = pointer + usize::from(next);
    }
    groups
}

/// Parameters may come before their group.
fn entry(groups: &mut Vec<Group>, id: i8) -> Option<&mut Group> {
    match groups.iter().position(|g| g.id == id) {
        Some(i) => groups.get_mut(i),
        None => Some(groups.push_mut(Group {
            id,
            ..Group::default()
        })),
    }
}

fn value(body: &[u8], processor: Processor) -> Option<Value> {
    let [kind, dimensions] = at::<2>(body, 0)?;
    let dims: Vec<usize> = body
        .get(2..2 + usize::from(dimensions))?
        .iter()
        .map(|d| usize::from(*d))
        .collect();
    let count = dims.iter().try_fold(1_usize, |a, d| a.checked_mul(*d))?;
    let kind = kind as i8;
    let size = usize::from(kind.unsigned_abs());
    let start = 2 + dims.len();
    // The slice exists only if the section holds that many bytes: this bounds the allocation.
    let data = body.get(start..start.checked_add(count.checked_mul(size)?)?)?;
    Some(match kind {
        -1 => {
            let width = dims.first().copied().unwrap_or(1);
            if width == 0 {
                Value::Text(Vec::new())
            } else {
                Value::Text(data.chunks(width).map(text).collect())
            }
        }
        1 => Value::Bytes(data.to_vec()),
        2 => Value::Integers(
            data.chunks_exact(2)
                .filter_map(|c| c.try_into().ok())
                .map(|b| processor.u16(b) as i16)
                .collect(),
        ),
        4 => Value::Floats(
            data.chunks_exact(4)
                .filter_map(|c| c.try_into().ok())
                .map(|b| processor.f32(b))
                .collect(),
        ),
        _ => return None,
    })
}
