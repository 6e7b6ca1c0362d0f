//! What a search of the library asks for.

use std::collections::BTreeSet;
use std::sync::Arc;

use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};
use serde::Deserialize;

use super::index::Entry;
use crate::result::Lesson;

/// Swings on one page.
pub const PAGE: usize = 100;

/// The fields of the search form, as they come in an address. An empty one asks for nothing.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(default)]
pub struct Filter {
    /// Words that must all be found, anywhere.
    pub q: String,
    /// The player's whole name.
    pub player: String,
    /// The whole label.
    pub label: String,
    /// The whole name of the club.
    pub club: String,
    /// First day, `2026-05-14`.
    pub from: String,
    /// Last day.
    pub to: String,
    /// The page, counted from 0.
    pub page: usize,
}

impl Filter {
    /// The swings that it lets through, in their order.
    pub fn of(&self, swings: &[Arc<Entry>]) -> Vec<Arc<Entry>> {
        let sought = self.q.to_lowercase();
        let day = |text: &str| text.parse::<Lesson>().ok();
        let (from, to) = (day(&self.from), day(&self.to));
        let same = |asked: &str, is: &str| asked.trim().is_empty() || asked.trim() == is;
        swings
            .iter()
            .filter(|s| {
                s.holds(&sought)
                    && same(&self.player, s.player())
                    && same(&self.label, s.label())
                    && same(
                        &self.club,
                        s.typed.club.as_deref().unwrap_or_default().trim(),
                    )
                    && from.is_none_or(|d| s.lesson.is_some_and(|l| l >= d))
                    && to.is_none_or(|d| s.lesson.is_some_and(|l| l <= d))
            })
            .cloned()
            .collect()
    }

    /// Whether it asks for more than words.
    pub fn narrows(&self) -> bool {
        [&self.player, &self.label, &self.club, &self.from, &self.to]
            .iter()
            .any(|t| !t.trim().is_empty())
    }

    /// The address of another page of the same search.
    pub fn address(&self, page: usize) -> String {
        let page = if page > 0 {
            page.to_string()
        } else {
            String::new()
        };
        let fields = [
            ("q", &self.q),
            ("player", &self.player),
            ("label", &self.label),
            ("club", &self.club),
            ("from", &self.from),
            ("to", &self.to),
            ("page", &page),
        ];
        format!("/find{}", query(&fields.map(|(k, v)| (k, v.as_str()))))
    }
}

/// The part of an address that begins with a question mark; fields without a text are left out.
pub fn query(fields: &[(&str, &str)]) -> String {
    let told: Vec<String> = fields
        .iter()
        .filter(|(_, value)| !value.trim().is_empty())
        .map(|(key, value)| {
            format!(
                "{key}={}",
                utf8_percent_encode(value.trim(), NON_ALPHANUMERIC)
            )
        })
        .collect();
    if told.is_empty() {
        String::new()
    } else {
        format!("?{}", told.join("&"))
    }
}

/// The different texts that swings carry, in order; for the lists of forms.
pub fn texts<'a>(
    swings: &'a [Arc<Entry>],
    of: impl Fn(&'a Entry) -> Option<&'a str>,
) -> BTreeSet<&'a str> {
    swings
        .iter()
        .filter_map(|s| of(s).map(str::trim))
        .filter(|t| !t.is_empty())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::index::tests::entry;
    use super::*;

    #[test]
    fn every_field_narrows_and_empty_ones_do_not() {
        let all = [
            entry("a", "Anna", "2026-05-14", "hips held"),
            entry("b", "Anna", "2026-05-20", "hips free"),
            entry("c", "Annabel", "2026-05-20", "hips free"),
        ];
        let ids = |f: Filter| -> Vec<String> { f.of(&all).iter().map(|s| s.id.clone()).collect() };
        let all_of = |change: fn(&mut Filter)| {
            let mut f = Filter::default();
            change(&mut f);
            ids(f)
        };
        assert_eq!(all_of(|_| {}), ["a", "b", "c"]);
        assert_eq!(all_of(|f| f.q = "ANNA free".into()), ["b", "c"]);
        assert_eq!(all_of(|f| f.player = "Anna".into()), ["a", "b"]);
        assert_eq!(all_of(|f| f.label = " hips held ".into()), ["a"]);
        assert_eq!(all_of(|f| f.from = "2026-05-15".into()), ["b", "c"]);
        assert_eq!(all_of(|f| f.to = "2026-05-14".into()), ["a"]);
        assert_eq!(all_of(|f| f.to = "soon".into()), ["a", "b", "c"]);
    }

    #[test]
    fn an_address_carries_any_text() {
        let f = Filter {
            q: "a&b=ü #".into(),
            ..Filter::default()
        };
        assert_eq!(f.address(0), "/find?q=a%26b%3D%C3%BC%20%23");
        assert_eq!(f.address(2), "/find?q=a%26b%3D%C3%BC%20%23&page=2");
        assert_eq!(Filter::default().address(0), "/find");
        assert!(!f.narrows() && !Filter::default().narrows());
        let club = Filter {
            club: "7 iron".into(),
            ..Filter::default()
        };
        assert!(club.narrows());
    }
}
