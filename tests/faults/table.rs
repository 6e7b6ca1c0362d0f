//! Reads docs/faults.md.

/// When a row is run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Set {
    Quick,
    Long,
}

/// What the program must do with one kind of input.
#[derive(Clone, Debug)]
pub struct Row {
    pub name: String,
    pub exit: i32,
    /// Each must stand in what the program says.
    pub words: Vec<String>,
    /// The numbers must be those of the clip as it was filmed.
    pub as_filmed: bool,
    pub set: Set,
}

const TEXT: &str = include_str!("../../docs/faults.md");

/// All rows of the document's tables that have five cells: case, exit code, words, numbers, set.
pub fn rows() -> Vec<Row> {
    let rows: Vec<Row> = TEXT.lines().filter_map(row).collect();
    assert!(
        rows.len() > 40,
        "only {} rows in docs/faults.md",
        rows.len()
    );
    rows
}

pub fn find<'a>(rows: &'a [Row], name: &str) -> &'a Row {
    rows.iter()
        .find(|r| r.name == name)
        .unwrap_or_else(|| panic!("docs/faults.md has no row \"{name}\""))
}

fn row(line: &str) -> Option<Row> {
    let cells: Vec<&str> = line
        .trim()
        .strip_prefix('|')?
        .strip_suffix('|')?
        .split('|')
        .map(str::trim)
        .collect();
    let [name, exit, words, numbers, set] = cells.as_slice() else {
        panic!("docs/faults.md: not five cells: {line}");
    };
    // The head of a table and the line under it hold no exit code.
    let exit = exit.parse().ok()?;
    Some(Row {
        name: (*name).to_owned(),
        exit,
        words: words
            .split(';')
            .map(|w| w.trim().trim_matches('`').to_owned())
            .filter(|w| !w.is_empty())
            .collect(),
        as_filmed: match *numbers {
            "as filmed" => true,
            "" => false,
            other => panic!(
                "docs/faults.md: {name}: numbers are \"as filmed\" or empty, not \"{other}\""
            ),
        },
        set: match *set {
            "quick" => Set::Quick,
            "long" => Set::Long,
            other => panic!("docs/faults.md: {name}: a row is quick or long, not \"{other}\""),
        },
    })
}
